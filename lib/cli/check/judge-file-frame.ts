import { clippedDoubts, clippedSweeps } from "@/lib/quality/gauge-doubts";
import {
  compileMeasurement,
  type CompiledMeasurement,
  type FrameMeasurement,
  measureFrame,
} from "@/lib/core/metrology/measure-frame";
import type { MeasurementWarning } from "@/lib/core/metrology/measurement-checks";
import { formatDegrees, formatUm } from "@/lib/format/number-text";
import type { BarPassage, PlugFeel } from "@/lib/core/metrology/reading-name";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { type Felt, feltOf } from "@/lib/quality/felt-evidence";
import { type ToldFrameMeaning, toldFrameMeaning } from "@/lib/format/meaning-words";
import { frameMeaning } from "@/lib/quality/frame-meaning";
import type { InspectionEvidence } from "@/lib/quality/inspection-evidence";
import { toldJudgement } from "@/lib/format/judging-words";
import type { ToldJudgement } from "@/lib/quality/judge-frame";
import { judgeTogether } from "@/lib/quality/judge-together";
import { type Verdict, worstVerdict } from "@/lib/quality/verdict-words";
import type { ReadingColumn } from "@/lib/schemas/measurement-file/file-header";
import type { FileInspection } from "@/lib/schemas/measurement-file/file-inspection";
import type { ReadingValue } from "@/lib/schemas/measurement-file/row-cells";
import type { FileIndex } from "./file-index";

/** A frame of a file, judged by all its inspections together; charted by the first of them. */
export type JudgedFrame = {
  readonly inspection: FileInspection;
  readonly inspections: number;
  readonly verdict: Verdict;
  readonly judgement: ToldJudgement;
  readonly charted: FrameMeasurement;
  /** What its readings mean, computed when asked for. */
  readonly meaning: () => ToldFrameMeaning;
  /** Why the frame is not completely measured, or null. */
  readonly notMeasured: string | null;
  /** Doubts about its readings, in sentences. */
  readonly doubts: readonly string[];
};

type Prepared = {
  readonly compiled: CompiledMeasurement;
  readonly columns: readonly ReadingColumn[];
  /** Place of each column among those of the file. */
  readonly places: readonly number[];
};

/** What one inspection of a file brings to the judging of its frame. A file has no register of gauges. */
function fileEvidence(
  inspection: FileInspection,
  { compiled, columns, places }: Prepared,
  place: number,
): InspectionEvidence {
  const values = places.map((at) => inspection.values[at] ?? null);
  const readings = values.map(asNumber);
  return {
    key: String(place),
    label: `the inspection of row ${inspection.row}`,
    drawing: inspection.drawing,
    compiled,
    readings,
    offScale: [],
    planCounts: true,
    felt: feltIn(columns, values),
    temperatureC: inspection.temperatureC,
    // A needle at its stop shows in the readings, whatever gauge it was.
    doubts: clippedDoubts(compiled, clippedSweeps(compiled.names, readings, [])),
  };
}

/** Felt words of the inspections of a frame: of each reading the last. */
function lastWords(inspections: readonly FileInspection[], places: readonly number[]): ReadingValue[] {
  return places.map(
    (place) => inspections.findLast(({ values }) => typeof (values[place] ?? 0) !== "number")?.values[place] ?? null,
  );
}

function doubtText(warning: MeasurementWarning, compiled: CompiledMeasurement): string {
  const reading = warning.readingIndex === null ? "" : (compiled.labels[warning.readingIndex] ?? "");
  const seat = warning.seat === null ? "" : `${warning.seat.toUpperCase()} `;
  const depth = warning.depthMm === null ? "" : ` at ${warning.depthMm} mm`;
  const value = formatUm(warning.value, 1);
  const limit = warning.limit === null ? "" : ` (limit ${formatUm(warning.limit, 1)})`;
  switch (warning.code) {
    case "sweep-not-closed":
      return `The ${seat}sweep${depth} does not close: ${value}${limit}.`;
    case "sweep-outlier":
    case "face-outlier":
      return `${reading} does not fit the other readings of its sweep: ${value}.`;
    case "sweep-maybe-reversed":
      return `The ${seat}sweep${depth} may have been read the wrong way round: its oval points ${formatDegrees(warning.value)} away from that of the diameters.`;
    case "width-disagrees-with-faces":
      return `Widths and faces disagree by ${value}${limit}: one of them was misread.`;
  }
}

function asNumber(value: ReadingValue | undefined): number | null {
  return typeof value === "number" ? value : null;
}

/** What was felt rather than read, by reading name. */
function feltIn(columns: readonly ReadingColumn[], values: readonly ReadingValue[]): Felt | null {
  const plugs: Record<string, PlugFeel> = {};
  const bars: Record<string, BarPassage> = {};
  columns.forEach(({ name, key }, index) => {
    const value = values[index];
    if (name.kind === "plug" && typeof value === "string") plugs[key] = value;
    if (name.kind === "bar" && typeof value === "object" && value !== null) bars[key] = value;
  });
  const isNothing = Object.keys(plugs).length === 0 && Object.keys(bars).length === 0;
  return isNothing ? null : feltOf({ plugs, bars });
}

/** Why a frame is not completely measured, or null. */
function notMeasuredReason(missing: readonly string[], judgement: ToldJudgement): string | null {
  if (missing.length === 1) return `reading ${missing[0]} is missing`;
  if (missing.length > 1) return `${missing.length} readings are missing, the first is ${missing[0]}`;
  return judgement.characteristics.length === 0 ? "its readings give no characteristic of the drawing" : null;
}

/**
 * Judges the frames of a file. Every reading that is used in the batch is due; plans are prepared once per batch's set of
 * readings and drawing.
 *
 * @param index - of the first pass over the file
 */
export function createFrameJudge(index: FileIndex): (inspections: readonly FileInspection[]) => JudgedFrame {
  const prepared = new WeakMap<ReadonlySet<string>, Map<string, Prepared>>();

  function prepare(inspection: FileInspection): Prepared {
    const due = index.dueIn(inspection);
    let byDrawing = prepared.get(due);
    if (!byDrawing) {
      byDrawing = new Map();
      prepared.set(due, byDrawing);
    }
    const known = byDrawing.get(inspection.drawing.key);
    if (known) return known;
    const places = inspection.columns.flatMap((column, place) => (due.has(column.key) ? [place] : []));
    const columns = inspection.columns.filter((column) => due.has(column.key));
    const compiled = compileMeasurement(
      columns.map(({ name }) => name),
      inspection.drawing,
    );
    const made = { columns, compiled, places };
    byDrawing.set(inspection.drawing.key, made);
    return made;
  }

  return (inspections) => {
    const last = inspections.at(-1);
    if (!last) throw new Error("createFrameJudge: a frame must have an inspection");
    const { compiled, columns, places } = prepare(last);
    const evidence = inspections.map((inspection, place) => fileEvidence(inspection, prepare(inspection), place));
    const together = judgeTogether(evidence, null);
    if (!together) throw new Error("createFrameJudge: a frame must have an inspection");
    const { measurement } = together;
    const judgement = toldJudgement(together.judgement);
    const felt = feltIn(columns, lastWords(inspections, places));
    const missing = columns
      .filter((_, place) => inspections.every(({ values }) => (values[places[place] ?? -1] ?? null) === null))
      .map(({ key }) => key);
    const notMeasured = notMeasuredReason(missing, judgement);
    const charted = inspections.length === 1 ? measurement : measureFrame(compiled, evidence[0]?.readings ?? []);
    return {
      inspection: last,
      inspections: inspections.length,
      verdict: worstVerdict([judgement.verdict, ...(notMeasured !== null ? (["not measured"] as const) : [])]),
      judgement,
      charted,
      meaning: () =>
        toldFrameMeaning(frameMeaning(last.drawing, { measurement, uncertainties: compiled.covered, ...felt })),
      notMeasured,
      doubts: measurement.warnings.map((warning) => doubtText(warning, compiled)),
    };
  };
}
