import { compileMeasurement, type CompiledMeasurement, type FrameMeasurement } from "../core/metrology/measure-frame";
import { type FeltSubject, feltSubjectOf } from "../core/metrology/felt-subject";
import type { ShellDrawing } from "../core/metrology/shell-drawing";
import { settledByAnotherGauge } from "./another-gauge";
import { combineInspections, type Combined, type Contribution } from "./combine-inspections";
import { isFeltContradiction } from "./felt-sides";
import type { InspectionEvidence } from "./inspection-evidence";
import { type FrameJudgement, holds, type JudgedCharacteristic } from "./judge-frame";
import { judgeInspection, type Judged } from "./judge-inspection";
import { lackingReadings } from "./plan-coverage";
import { worstVerdict } from "./verdict-words";

/** What the batch's plan asks of a frame. */
export type AskedEvidence = {
  /** How reasons name the plan: "plan P1 revision 2". */
  readonly plan: string;
  readonly drawing: ShellDrawing;
  readonly compiled: CompiledMeasurement;
};

/** Judged inspections: one is judged once, however often it is looked at together with others. */
const judgedBefore = new WeakMap<InspectionEvidence, Map<ShellDrawing, Judged>>();
const compiledBefore = new WeakMap<CompiledMeasurement, Map<ShellDrawing, CompiledMeasurement>>();

/** A value that follows from an object and a drawing, made once. */
export function remembered<Key extends object, Value>(
  memory: WeakMap<Key, Map<ShellDrawing, Value>>,
  key: Key,
  drawing: ShellDrawing,
  make: () => Value,
): Value {
  const known = memory.get(key) ?? new Map<ShellDrawing, Value>();
  memory.set(key, known);
  const before = known.get(drawing);
  if (before !== undefined) return before;
  const made = make();
  known.set(drawing, made);
  return made;
}

const isSameDrawing = (a: ShellDrawing, b: ShellDrawing): boolean =>
  a === b || (a.key === b.key && a.revision === b.revision);

/** Judges one inspection against the limits of a drawing, which may be another revision than the one it was made under. */
function judgeUnder(inspection: InspectionEvidence, drawing: ShellDrawing): Judged {
  if (isSameDrawing(inspection.drawing, drawing))
    return remembered(judgedBefore, inspection, inspection.drawing, () => judgeInspection(inspection));
  return remembered(judgedBefore, inspection, drawing, () =>
    judgeInspection({ ...inspection, drawing, compiled: compiledUnder(inspection.compiled, drawing) }),
  );
}

/** The readings of a plan compiled for another drawing, or another revision of its own. */
export function compiledUnder(compiled: CompiledMeasurement, drawing: ShellDrawing): CompiledMeasurement {
  return remembered(compiledBefore, compiled, drawing, () =>
    compileMeasurement(compiled.names, drawing, compiled.options),
  );
}

/** A characteristic and its seat as a key. */
export const keyOf = ({ name, seat }: Pick<JudgedCharacteristic, "name" | "seat">): string => `${name} ${seat ?? ""}`;

type Lacking = ReadonlyMap<string, readonly string[]>;
const NOTHING: readonly string[] = [];
const lackingBefore = new WeakMap<CompiledMeasurement, WeakMap<CompiledMeasurement, Lacking>>();

/** What a plan lacks, by characteristic, against what another asks for; characteristics that lack nothing are left out. */
function lackingBy(plan: CompiledMeasurement, asked: CompiledMeasurement): Lacking {
  const known = lackingBefore.get(plan) ?? new WeakMap<CompiledMeasurement, Lacking>();
  lackingBefore.set(plan, known);
  const before = known.get(asked);
  if (before !== undefined) return before;
  // Plugs and bar beside readings are asked for with them.
  const of = ({ names, covered, felt }: CompiledMeasurement, key: string) => {
    const places = [...covered, ...felt].flatMap((one) => (keyOf(one) === key ? one.indices : []));
    return [...new Set(places)].flatMap((index) => names[index] ?? []);
  };
  const isRead = (key: string) => plan.covered.some((one) => keyOf(one) === key && one.felt !== true);
  const made: Lacking = new Map(
    asked.covered.flatMap((one) => {
      const key = keyOf(one);
      // Readings say more than the bounds that such a plan asks for.
      if (one.felt === true && isRead(key)) return [];
      const lacking = lackingReadings(of(plan, key), of(asked, key));
      return lacking.length === 0 ? [] : [[key, lacking] as const];
    }),
  );
  known.set(asked, made);
  return made;
}

/** True where a plan has, for every characteristic of another, at least its sections, directions and angles. */
export function asksAtLeast(plan: CompiledMeasurement, asked: CompiledMeasurement): boolean {
  return plan === asked || lackingBy(plan, asked).size === 0;
}

/** An inspection of which what was felt and what was read contradict each other, and nothing has settled it. */
export type FeltContradiction = { readonly key: string; readonly label: string; readonly subject: FeltSubject };

/** What several inspections of one operation say together. */
export type JudgedTogether<One extends InspectionEvidence> = {
  readonly judgement: FrameJudgement;
  /** The inspection whose measurement is shown: the newest of those that measured the most characteristics. */
  readonly shown: One;
  readonly measurement: FrameMeasurement;
  /** By characteristic and seat, as keyOf writes them. */
  readonly combined: ReadonlyMap<string, Combined>;
  readonly contradicting: readonly FeltContradiction[];
};

/** The drawing whose limits decide: the newest inspection's, or that of the batch's plan as soon as it was measured by it. */
function decidingDrawing(inspections: readonly InspectionEvidence[], asked: AskedEvidence | null): ShellDrawing | null {
  const newest = inspections.at(-1);
  if (newest === undefined) return null;
  const isAsked = inspections.some(
    ({ drawing, planCounts }) => !planCounts || (asked !== null && isSameDrawing(drawing, asked.drawing)),
  );
  return asked !== null && isAsked ? asked.drawing : newest.drawing;
}

function inOrderOf(drawing: ShellDrawing, characteristics: readonly JudgedCharacteristic[]): JudgedCharacteristic[] {
  const order = drawing.characteristics.map(({ name }) => name);
  return [...characteristics].sort(
    (a, b) => order.indexOf(a.name) - order.indexOf(b.name) || (a.seat ?? "").localeCompare(b.seat ?? ""),
  );
}

/** Verdict and consequence of a frame's characteristics: the worst of them. */
export function summed(
  characteristics: readonly JudgedCharacteristic[],
  uncovered: FrameJudgement["uncovered"],
): FrameJudgement {
  return {
    verdict: worstVerdict(characteristics.map(({ verdict }) => verdict)),
    holdsFrame: characteristics.length === 0 || characteristics.some(holds),
    characteristics,
    uncovered,
  };
}

/** Judges each inspection by itself, with what later ones and signed decisions have settled of its contradictions. */
function judgeEach<One extends InspectionEvidence>(
  inspections: readonly One[],
  drawing: ShellDrawing,
  lackingOf: (one: One) => Lacking | null,
): { readonly inspection: One; readonly judged: Judged }[] {
  const alone = inspections.map((inspection) => ({ inspection, judged: judgeUnder(inspection, drawing) }));
  const isOpen = alone.some(({ judged }) =>
    judged.judgement.characteristics.some(({ code }) => isFeltContradiction(code)),
  );
  if (!isOpen || inspections.length === 1) return alone;
  const settled = settledByAnotherGauge(
    alone.map(({ inspection, judged }) => {
      const lacking = lackingOf(inspection);
      return {
        inspection,
        characteristics: judged.judgement.characteristics,
        isComplete: (one) => (lacking?.get(keyOf(one)) ?? NOTHING).length === 0,
      };
    }),
  );
  return alone.map((one) => {
    const sides = settled.get(one.inspection);
    if (sides === undefined) return one;
    const inspection = { ...one.inspection, sides: { ...sides, ...one.inspection.sides } };
    return { inspection, judged: judgeUnder(inspection, drawing) };
  });
}

function contradictionsIn({ key, label }: InspectionEvidence, { judgement }: Judged): FeltContradiction[] {
  const subjects = judgement.characteristics.map((one) => (isFeltContradiction(one.code) ? feltSubjectOf(one) : null));
  return [...new Set(subjects)].flatMap((subject) => (subject === null ? [] : [{ key, label, subject }]));
}

/**
 * Judges one operation of a frame by all its valid inspections: each characteristic from all of them that measured it, by
 * whatever plan, each with the U of its own plan. Features are averaged, never readings: two set-ups have two zeros. The order
 * of the inspections does not change the verdict, but that a later one with another gauge settles what an earlier one felt
 * against its own readings.
 *
 * @param inspections - valid inspections of one frame and operation since its last rework, oldest first
 * @param asked - what the batch's plan asks for; null where nobody says, as in a file
 * @returns null where there are none
 */
export function judgeTogether<One extends InspectionEvidence>(
  inspections: readonly One[],
  asked: AskedEvidence | null,
): JudgedTogether<One> | null {
  const drawing = decidingDrawing(inspections, asked);
  if (drawing === null) return null;
  const byKey = new Map<string, Contribution[]>();
  let shown: { readonly one: One; readonly judged: Judged; readonly measured: number } | null = null;
  const lackingOf = ({ planCounts, compiled }: One): Lacking | null =>
    asked === null || planCounts ? null : lackingBy(compiled, asked.compiled);
  const each = judgeEach(inspections, drawing, lackingOf);
  for (const { inspection, judged } of each) {
    const lacking = lackingOf(inspection);
    let measured = 0;
    for (const characteristic of judged.judgement.characteristics) {
      const key = keyOf(characteristic);
      const contribution = {
        inspection,
        measurement: judged.measurement,
        judged: characteristic,
        lacking: lacking?.get(key) ?? NOTHING,
      };
      const known = byKey.get(key);
      if (known === undefined) byKey.set(key, [contribution]);
      else known.push(contribution);
      if (characteristic.verdict !== "not measured") measured += 1;
    }
    if (shown === null || measured >= shown.measured) shown = { one: inspection, judged, measured };
  }
  if (shown === null) return null;
  const combined = new Map<string, Combined>();
  for (const [key, contributions] of byKey)
    combined.set(key, combineInspections(contributions, drawing, asked?.plan ?? "the plan"));
  const characteristics = inOrderOf(
    drawing,
    [...combined.values()].map(({ judged }) => judged),
  );
  const uncovered = shown.judged.judgement.uncovered.filter((one) => !byKey.has(keyOf(one)));
  return {
    judgement: summed(characteristics, uncovered),
    shown: shown.one,
    measurement: shown.judged.measurement,
    combined,
    contradicting: each.flatMap(({ inspection, judged }) => contradictionsIn(inspection, judged)),
  };
}
