import type { FrameMeasurement } from "@/lib/core/metrology/measure-frame";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import type { FeatureName } from "@/lib/core/metrology/features";
import { failsIn, liesOutside } from "@/lib/quality/baseline";
import type { CaseFeature, LabelName } from "@/lib/quality/cases/case";
import { ovalVector } from "@/lib/quality/cases/oval-vector";
import { guardBand } from "@/lib/quality/conformity";
import { CHARTED_STREAMS } from "@/lib/quality/control-limits";
import type { ToldJudgement } from "@/lib/quality/judge-frame";
import { OFFSET_SUBJECT, streamSubject, type StreamSubject } from "@/lib/quality/stream-evaluation";
import type { FixedColumn } from "@/lib/schemas/measurement-file/file-header";
import type { FileInspection } from "@/lib/schemas/measurement-file/file-inspection";

/** Frames of one line, operation and drawing, as columns in the order of the file. */
export type FileGroup = {
  readonly line: string | null;
  readonly operation: string | null;
  readonly drawing: ShellDrawing;
  readonly serials: string[];
  readonly batches: (string | null)[];
  readonly times: (number | null)[];
  /** Time to sort by: that of the frame, or of the last frame before it in the file. */
  readonly order: number[];
  /** A bit for each characteristic and seat in which the frame does not conform, and in which it lies outside its guarded limit. */
  readonly failing: number[];
  readonly outside: number[];
  /** What the frames were made and measured with; texts are kept once. */
  readonly labels: Readonly<Record<FileLabel, (string | null)[]>>;
  /** Guard band of a characteristic and seat, by their bit: the widest that a frame had. */
  readonly guards: Map<number, number>;
  /** Diameters of a seat. */
  boreReadings: number;
  readonly values: number[][];
};

/** Labels that come from a column of their own. */
export type FileLabel = Exclude<LabelName, "shift">;

const LABEL_COLUMNS = {
  batch: ["batch"],
  tool: ["tool"],
  fixture: ["fixture"],
  mould: ["mould"],
  supplier: ["supplier"],
  inspector: ["inspector"],
  "gauge.bore": ["gauge.bore", "gauge"],
  "gauge.sweep": ["gauge.sweep", "gauge"],
  "gauge.face": ["gauge.face", "gauge"],
  "gauge.width": ["gauge.width", "gauge"],
} as const satisfies Record<FileLabel, readonly FixedColumn[]>;

export const FILE_LABELS = Object.keys(LABEL_COLUMNS) as FileLabel[];

/** A copy of a text that does not keep the piece of the file alive from which it was cut. */
function detached(text: string): string {
  return Buffer.from(text, "utf8").toString("utf8");
}

/** Columns that are kept beside the charted features: the extremes that capability looks at, the offset vector, the ovals. */
const BESIDE = [
  "ds.bore.smallest",
  "ds.bore.largest",
  "nds.bore.smallest",
  "nds.bore.largest",
  "width.smallest",
  "width.largest",
  "coaxiality",
  "offset.12",
  "offset.3",
  "ds.oval.12",
  "ds.oval.1:30",
  "nds.oval.12",
  "nds.oval.1:30",
] as const satisfies readonly CaseFeature[];

/** The columns of a group, taper with its sign. */
export const KEPT_COLUMNS: readonly CaseFeature[] = [...CHARTED_STREAMS.map(({ feature }) => feature), ...BESIDE];

/** A column of a group: one number a frame, NaN where there is none. */
export function keptColumn(group: FileGroup, feature: string): readonly number[] {
  return group.values[KEPT_COLUMNS.findIndex((kept) => kept === feature)] ?? [];
}

const SUBJECTS: readonly StreamSubject[] = [
  ...CHARTED_STREAMS.map(({ feature }) => streamSubject(feature)),
  OFFSET_SUBJECT,
];

type Judged = Pick<StreamSubject, "characteristic" | "seat">;

/** The bit of a characteristic and seat. */
export function subjectBit({ characteristic, seat }: Judged): number {
  return 1 << SUBJECTS.findIndex((one) => one.characteristic === characteristic && one.seat === seat);
}

function bitsOf(
  { characteristics }: ToldJudgement,
  holds: (characteristics: ToldJudgement["characteristics"], subject: StreamSubject) => boolean,
): number {
  let bits = 0;
  for (const subject of SUBJECTS) if (holds(characteristics, subject)) bits |= subjectBit(subject);
  return bits;
}

function addGuards(group: FileGroup, { characteristics }: ToldJudgement): void {
  for (const { name, seat, value, uncertainty } of characteristics) {
    if (value === null) continue;
    const bit = subjectBit({ characteristic: name, seat });
    const guard = guardBand(group.drawing.decisionRule, uncertainty);
    group.guards.set(bit, Math.max(group.guards.get(bit) ?? 0, guard));
  }
}

function ovalsOf({ bores }: FrameMeasurement): Partial<Record<CaseFeature, number>> {
  return { ...ovalVector("ds", bores.ds), ...ovalVector("nds", bores.nds) };
}

export type GroupCollector = {
  readonly add: (inspection: FileInspection, charted: FrameMeasurement, judgement: ToldJudgement) => void;
  readonly groups: () => FileGroup[];
};

/** Gathers the frames of a file by line, operation and drawing. */
export function collectGroups(): GroupCollector {
  const groups = new Map<string, FileGroup>();
  const texts = new Map<string, string>();

  function groupOf({ texts: { line, operation }, drawing }: FileInspection): FileGroup {
    const key = [line ?? "", operation ?? "", drawing.key].join("\u0000");
    let group = groups.get(key);
    if (!group) {
      const labels = Object.fromEntries(FILE_LABELS.map((label) => [label, [] as (string | null)[]]));
      group = {
        line: line ?? null,
        operation: operation ?? null,
        drawing,
        serials: [],
        batches: [],
        times: [],
        order: [],
        failing: [],
        outside: [],
        labels: labels as FileGroup["labels"],
        guards: new Map(),
        boreReadings: 0,
        values: KEPT_COLUMNS.map((): number[] => []),
      };
      groups.set(key, group);
    }
    return group;
  }

  function once(text: string | undefined): string | null {
    if (text === undefined) return null;
    const known = texts.get(text);
    if (known !== undefined) return known;
    const own = detached(text);
    texts.set(own, own);
    return own;
  }

  function add(inspection: FileInspection, charted: FrameMeasurement, judgement: ToldJudgement): void {
    const group = groupOf(inspection);
    group.serials.push(detached(inspection.serial));
    group.batches.push(once(inspection.texts.batch));
    group.times.push(inspection.measuredAt);
    group.order.push(inspection.measuredAt ?? group.order.at(-1) ?? -Infinity);
    group.failing.push(bitsOf(judgement, failsIn));
    group.outside.push(bitsOf(judgement, liesOutside));
    for (const label of FILE_LABELS) {
      const column = LABEL_COLUMNS[label].find((name) => (inspection.texts[name] ?? "") !== "");
      group.labels[label].push(column === undefined ? null : once(inspection.texts[column]));
    }
    addGuards(group, judgement);
    if (group.boreReadings === 0)
      group.boreReadings = inspection.columns.filter(({ name }) => name.kind === "bore" && name.seat === "ds").length;
    const ovals = ovalsOf(charted);
    for (const [place, feature] of KEPT_COLUMNS.entries()) {
      const value = feature in charted.features ? charted.features[feature as FeatureName].value : ovals[feature];
      // NaN stands for no value in these columns; it never leaves them.
      group.values[place]?.push(value ?? Number.NaN);
    }
  }

  return { add, groups: () => [...groups.values()] };
}

/** Places of the frames of a group in the order of measuring. */
export function framesInOrder({ order }: FileGroup): number[] {
  const byTime = order.map((_, place) => place);
  return byTime.sort((a, b) => {
    const [ta = 0, tb = 0] = [order[a], order[b]];
    return ta === tb ? a - b : ta < tb ? -1 : 1;
  });
}
