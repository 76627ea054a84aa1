import { createReadStream } from "node:fs";
import type { ReadingKind } from "@/lib/core/metrology/reading-name";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { toldBatchDecision, type ToldBatchDecision } from "@/lib/format/batch-words";
import { decideBatch } from "@/lib/quality/batch-decision";
import { caseCharacteristics } from "@/lib/quality/cases/case-characteristics";
import { collectBatchEvidence, type EvidenceCollector } from "@/lib/quality/batch-evidence";
import { DEMONSTRATION_DRAWINGS, findDemonstrationDrawing } from "@/lib/quality/demonstration-drawings";
import { DEFAULT_GATE_POLICY } from "@/lib/quality/gate-policy";
import { assessPlanUncertainty } from "@/lib/quality/plan-uncertainty";
import { caseHeadline } from "@/lib/format/case-words";
import { countText, seatText } from "@/lib/format/value-text";
import type { Verdict } from "@/lib/quality/verdict-words";
import type { FileInspection, ReadOptions } from "@/lib/schemas/measurement-file/file-inspection";
import type { FileProblem } from "@/lib/schemas/measurement-file/file-problem";
import { readMeasurementFile, type ReadResult } from "@/lib/schemas/measurement-file/read-measurement-file";
import { createFileIndex } from "./file-index";
import { DEFAULT_FILE_BUDGET } from "./file-alarms";
import { casesOfFile, type FileCase } from "./file-cases";
import { collectGroups } from "./file-groups";
import { type FileStream, streamsOfGroup } from "./file-streams";
import { createFrameJudge, type JudgedFrame } from "./judge-file-frame";

export type CheckSettings = {
  /** Path to read, and the name by which problems name it. */
  readonly path: string;
  readonly name: string;
  readonly drawing: ShellDrawing | null;
  readonly zone: string | null;
  readonly baselineFrames: number | null;
  /** False cases per 1,000 frames of all streams together; 0.5 by default. */
  readonly budget?: number;
  readonly nowMs: number;
  /** Goes on with the good rows of a bad file. */
  readonly goOnWithGoodRows: boolean;
};

/** What happens while a file is checked. */
export type CheckEvents = {
  /** A frame was judged; frames come in the order in which they are complete. */
  readonly onFrame: (frame: JudgedFrame) => void;
  /** A row with content of the second pass, with what is wrong with it. */
  readonly onRow?: (cells: readonly string[], row: number, wrong: string | null) => void;
  /** The header, before the second pass. */
  readonly onHeader?: (result: ReadResult) => void;
  readonly onProgress?: (pass: 1 | 2, rows: number, bytes: number) => void | Promise<void>;
};

export type CheckOutcome = {
  readonly exitCode: 0 | 1 | 2;
  readonly problems: readonly FileProblem[];
  readonly problemCount: number;
  readonly warnings: readonly string[];
  readonly frames: number;
  readonly verdicts: Readonly<Record<Verdict, number>>;
  readonly drawings: readonly ShellDrawing[];
  readonly batches: readonly (ToldBatchDecision & { readonly frames: number })[];
  readonly streams: readonly FileStream[];
  readonly cases: readonly FileCase[];
};

type CaseNote = NonNullable<NonNullable<Parameters<typeof decideBatch>[2]>["signals"]>[number];

/** Frames that a note names; the rest is counted. */
const NAMED_MOST = 3;

/** The cases that signal at frames of each batch, under what each moved most. */
function casesByBatch(cases: readonly FileCase[]): Map<string | null, CaseNote[]> {
  const notes = new Map<string | null, CaseNote[]>();
  for (const { found, serials, batches } of cases) {
    const [subject] = caseCharacteristics(found);
    if (subject === undefined) continue;
    const here = new Map<string | null, Set<string>>();
    for (const { place } of found.signals) {
      const batch = batches[place] ?? null;
      here.set(batch, (here.get(batch) ?? new Set()).add(serials[place] ?? ""));
    }
    for (const [batch, at] of here) {
      const named = [...at];
      const more = named.length > NAMED_MOST ? ` and ${named.length - NAMED_MOST} more` : "";
      const text = `A case, ${caseHeadline(found)}; at ${named.slice(0, NAMED_MOST).join(", ")}${more}.`;
      const note = { characteristic: subject.name, seat: subject.seat, text, serials: named };
      notes.set(batch, [...(notes.get(batch) ?? []), note]);
    }
  }
  return notes;
}

/** Collects what is said once about the plan: characteristics without readings, uncertainty that eats a tolerance. */
function createPlanWarnings(): { add: (frame: JudgedFrame) => void; warnings: () => string[] } {
  const uncovered = new Map<string, { text: string; frames: number }>();
  const plans = new Map<string, string[]>();

  function add({ judgement, inspection }: JudgedFrame): void {
    for (const { name, seat, reason } of judgement.uncovered) {
      const key = `${inspection.drawing.key} ${name} ${seat ?? ""}`;
      const known = uncovered.get(key);
      const text = `${name}${seatText(seat)} is critical on drawing ${inspection.drawing.key} and was not judged: ${reason}`;
      if (known) known.frames += 1;
      else uncovered.set(key, { text, frames: 1 });
    }
    if (plans.has(inspection.drawing.key)) return;
    const names = inspection.columns.map(({ name }) => name);
    const eaten = assessPlanUncertainty(inspection.drawing, names).filter(({ eatsTolerance }) => eatsTolerance);
    plans.set(
      inspection.drawing.key,
      eaten.map(({ name, seat, felt }) =>
        felt !== undefined
          ? `These plugs and bars cannot prove that ${name}${seatText(seat)} conforms on drawing ${inspection.drawing.key}: ${felt.canFail ? "they can only show it out of its limits" : "they prove nothing of it"}.`
          : `With these readings the uncertainty of ${name}${seatText(seat)} leaves nothing of its tolerance on drawing ${inspection.drawing.key}: no frame can be proven to conform.`,
      ),
    );
  }

  function warnings(): string[] {
    const notCovered = [...uncovered.values()].map(({ text, frames }) => `${text} (${countText(frames, "frame")}).`);
    return [...notCovered, ...[...plans.values()].flat()];
  }

  return { add, warnings };
}

/** Collects which readings of a file name no gauge: said once, since a file has no register in which to look one up. */
function createGaugeWarning(): { add: (inspection: FileInspection) => void; warnings: () => string[] } {
  let inspections = 0;
  let first: { readonly serial: string; readonly kind: string } | null = null;

  function add({ serial, texts, columns, values }: FileInspection): void {
    const isNamed = (kind: ReadingKind): boolean => (texts[`gauge.${kind}`] ?? texts.gauge ?? "") !== "";
    const without = columns.find(({ name }, at) => (values[at] ?? null) !== null && !isNamed(name.kind));
    if (without === undefined) return;
    inspections += 1;
    first ??= { serial, kind: without.name.kind };
  }

  function warnings(): string[] {
    if (first === null) return [];
    return [
      `${countText(inspections, "inspection names", "inspections name")} no gauge (first ${first.serial}, ${first.kind}): the drawing's U stands for a gauge that nobody knows.`,
    ];
  }

  return { add, warnings };
}

/** The outcome of a check that could not begin. */
export function refusedCheck(value: string | null, rule: string): CheckOutcome {
  return failure({ file: "", value, rule });
}

function failure(problem: Omit<FileProblem, "row" | "column" | "hint">): CheckOutcome {
  return badFile([{ ...problem, row: null, column: null, hint: null }], 1, []);
}

function badFile(problems: readonly FileProblem[], problemCount: number, warnings: readonly string[]): CheckOutcome {
  const verdicts = { conforms: 0, "not proven": 0, "not measured": 0, "does not conform": 0 };
  return {
    exitCode: 1,
    problems,
    problemCount,
    warnings,
    frames: 0,
    verdicts,
    drawings: [],
    batches: [],
    streams: [],
    cases: [],
  };
}

/** The errors of a file that cannot be opened, as a person says them. */
const OPEN_ERRORS: Readonly<Record<string, string>> = {
  ENOENT: "the file must exist",
  EISDIR: "a file must be named, not a folder",
  EACCES: "the file must be readable for you",
};

function openRule(error: unknown): string | null {
  if (!(error instanceof Error) || !("code" in error)) return null;
  return OPEN_ERRORS[String(error.code)] ?? null;
}

function readPass(settings: CheckSettings, own: Pick<ReadOptions, "onInspection"> & Partial<ReadOptions>) {
  return readMeasurementFile(createReadStream(settings.path, { highWaterMark: 1 << 18 }), {
    file: settings.name,
    findDrawing: findDemonstrationDrawing,
    knownDrawings: DEMONSTRATION_DRAWINGS.map(({ key }) => key),
    drawing: settings.drawing,
    zone: settings.zone,
    nowMs: settings.nowMs,
    ...own,
  });
}

type Judging = {
  readonly judge: (inspections: readonly FileInspection[]) => void;
  readonly finish: () => Pick<
    CheckOutcome,
    "frames" | "verdicts" | "drawings" | "batches" | "streams" | "cases" | "warnings"
  >;
};

/** Takes judged frames to batches, streams and the caller. */
function createJudging(
  settings: CheckSettings,
  events: CheckEvents,
  frameJudge: ReturnType<typeof createFrameJudge>,
): Judging {
  const batches = new Map<string | null, EvidenceCollector>();
  const groups = collectGroups();
  const planWarnings = createPlanWarnings();
  const gaugeWarning = createGaugeWarning();
  const drawings = new Map<string, ShellDrawing>();
  const verdicts: Record<Verdict, number> = { conforms: 0, "not proven": 0, "not measured": 0, "does not conform": 0 };
  let frames = 0;
  let again = 0;

  function judge(inspections: readonly FileInspection[]): void {
    const frame = frameJudge(inspections);
    const { inspection, judgement, verdict, notMeasured } = frame;
    frames += 1;
    verdicts[verdict] += 1;
    if (frame.inspections > 1) again += 1;
    drawings.set(inspection.drawing.key, inspection.drawing);
    const batch = inspection.texts.batch ?? null;
    const collector = batches.get(batch) ?? collectBatchEvidence(batch);
    batches.set(batch, collector);
    // A missing reading is said once for the frame, not once more for each characteristic that needs it.
    const characteristics = judgement.characteristics.filter(
      (judged) => judged.verdict !== "conforms" && !(notMeasured !== null && judged.verdict === "not measured"),
    );
    collector.add({ serial: inspection.serial, verdict, characteristics, notMeasured });
    groups.add(inspections[0] ?? inspection, frame.charted, judgement);
    planWarnings.add(frame);
    for (const one of inspections) gaugeWarning.add(one);
    events.onFrame(frame);
  }

  function finish(): ReturnType<Judging["finish"]> {
    const evaluated = groups.groups().flatMap((group) => streamsOfGroup(group, settings.baselineFrames));
    const told = casesOfFile(groups.groups(), settings.budget ?? DEFAULT_FILE_BUDGET);
    const cases = casesByBatch(told.cases);
    const decisions = [...batches.entries()].map(([batch, collector]) => {
      const evidence = collector.evidence();
      const decision = toldBatchDecision(
        decideBatch(evidence, DEFAULT_GATE_POLICY, { signals: cases.get(batch) ?? [] }),
      );
      return { ...decision, frames: evidence.frames };
    });
    const repeated =
      again === 0
        ? []
        : [
            `${countText(again, "frame was", "frames were")} measured more than once: the mean of inspections that agree decides, and those that disagree hold.`,
          ];
    const warnings = [...planWarnings.warnings(), ...gaugeWarning.warnings(), ...repeated, ...told.warnings];
    return {
      frames,
      verdicts,
      drawings: [...drawings.values()],
      batches: decisions,
      streams: evaluated,
      cases: told.cases,
      warnings,
    };
  }

  return { judge, finish };
}

/**
 * Checks a measurement file. The file is read twice: first every rule is held against every row, then, when all is well,
 * frames are judged, so that a bad file has no effect at all and a million rows need no room.
 *
 * @returns the outcome; exit code 0 every batch ships, 2 some hold, 1 the file is bad
 */
export async function checkFile(settings: CheckSettings, events: CheckEvents): Promise<CheckOutcome> {
  const index = createFileIndex();
  let first: ReadResult;
  try {
    first = await readPass(settings, {
      onInspection: index.add,
      onProgress: (rows, bytes) => events.onProgress?.(1, rows, bytes),
    });
    if (first.problemCount > 0 && settings.goOnWithGoodRows && first.inspections > 0) {
      // The bad rows must not count in what is due: build the index again without them.
      return await judgeRows(settings, events, first, await indexGoodRows(settings, first));
    }
  } catch (error) {
    const rule = openRule(error);
    if (rule === null) throw error;
    return failure({ file: settings.name, value: settings.path, rule });
  }
  if (first.problemCount > 0) return badFile(first.problems, first.problemCount, first.warnings);
  return judgeRows(settings, events, first, index);
}

async function indexGoodRows(settings: CheckSettings, first: ReadResult) {
  const index = createFileIndex();
  await readPass(settings, { onInspection: index.add, skipRows: new Set(first.badRows.keys()) });
  return index;
}

async function judgeRows(
  settings: CheckSettings,
  events: CheckEvents,
  first: ReadResult,
  index: ReturnType<typeof createFileIndex>,
): Promise<CheckOutcome> {
  const judging = createJudging(settings, events, createFrameJudge(index));
  const waiting = new Map<number, FileInspection[]>();
  events.onHeader?.(first);
  const second = await readPass(settings, {
    skipRows: new Set(first.badRows.keys()),
    onRow: (cells, row) => events.onRow?.(cells, row, first.badRows.get(row) ?? null),
    onProgress: (rows, bytes) => events.onProgress?.(2, rows, bytes),
    onInspection(inspection) {
      const due = index.inspectionsOf(inspection);
      if (due <= 1) return judging.judge([inspection]);
      const frame = index.frameOf(inspection);
      const together = [...(waiting.get(frame) ?? []), inspection];
      if (together.length < due) return waiting.set(frame, together);
      waiting.delete(frame);
      together.sort((a, b) => (a.measuredAt ?? 0) - (b.measuredAt ?? 0));
      return judging.judge(together);
    },
  });
  if (second.problemCount > 0 || waiting.size > 0)
    throw new Error(`checkFile: ${settings.name} changed while it was read; check it again`);
  const judged = judging.finish();
  const holds = judged.batches.some(({ decision }) => decision === "hold");
  return {
    ...judged,
    exitCode: first.problemCount > 0 ? 1 : holds ? 2 : 0,
    problems: first.problems,
    problemCount: first.problemCount,
    warnings: [...first.warnings, ...judged.warnings],
  };
}
