import { compileMeasurement, type CompiledMeasurement, type FrameMeasurement } from "../core/metrology/measure-frame";
import { type FeltSubject, feltSubjectOf } from "../core/metrology/felt-subject";
import type { ShellDrawing } from "../core/metrology/shell-drawing";
import { SettledByAnotherGauge } from "./another-gauge";
import { type Combined, CombinedInspections } from "./combine-inspections";
import { type FeltSides, isFeltContradiction } from "./felt-sides";
import type { InspectionEvidence } from "./inspection-evidence";
import { type FrameJudgement, holds, type JudgedCharacteristic } from "./judge-frame";
import { judgeInspection, type Judged } from "./judge-inspection";
import { lackingReadings, type LackingReadings } from "./plan-coverage";
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

type Lacking = ReadonlyMap<string, readonly LackingReadings[]>;
const NOTHING: readonly LackingReadings[] = [];
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

function contradictionsIn({ key, label }: InspectionEvidence, { judgement }: Judged): FeltContradiction[] {
  const subjects = judgement.characteristics.map((one) => (isFeltContradiction(one.code) ? feltSubjectOf(one) : null));
  return [...new Set(subjects)].flatMap((subject) => (subject === null ? [] : [{ key, label, subject }]));
}

const settledBefore = new WeakMap<InspectionEvidence, Map<string, InspectionEvidence>>();

/** An inspection with what later ones have settled of it; what was signed goes before. Made once, so that it is judged once. */
function settledWith<One extends InspectionEvidence>(inspection: One, sides: FeltSides | undefined): One {
  if (sides === undefined) return inspection;
  const known = (settledBefore.get(inspection) ?? new Map()) as Map<string, One>;
  settledBefore.set(inspection, known);
  const key = JSON.stringify(sides);
  const made = known.get(key) ?? { ...inspection, sides: { ...sides, ...inspection.sides } };
  known.set(key, made);
  return made;
}

type Shown<One> = { readonly one: One; readonly judged: Judged; readonly measured: number };

/** Inspections of one operation put together by the limits of one drawing, as they come. */
class PutTogether<One extends InspectionEvidence> {
  readonly byKey = new Map<string, CombinedInspections>();
  readonly contradicting: FeltContradiction[] = [];
  shown: Shown<One> | null = null;
  /** As they were put together. */
  readonly inspections: One[] = [];

  constructor(
    readonly drawing: ShellDrawing,
    private readonly plan: string | null,
  ) {}

  add(inspection: One, lacking: Lacking | null): void {
    const judged = judgeUnder(inspection, this.drawing);
    this.inspections.push(inspection);
    let measured = 0;
    for (const characteristic of judged.judgement.characteristics) {
      const key = keyOf(characteristic);
      const known = this.byKey.get(key) ?? new CombinedInspections(this.drawing, this.plan);
      this.byKey.set(key, known);
      known.add({
        inspection,
        measurement: judged.measurement,
        judged: characteristic,
        lacking: lacking?.get(key) ?? NOTHING,
      });
      if (characteristic.verdict !== "not measured") measured += 1;
    }
    if (this.shown === null || measured >= this.shown.measured) this.shown = { one: inspection, judged, measured };
    this.contradicting.push(...contradictionsIn(inspection, judged));
  }

  judged(shown: Shown<One>): JudgedTogether<One> {
    const combined = new Map([...this.byKey].map(([key, known]) => [key, known.combined()]));
    const characteristics = inOrderOf(
      this.drawing,
      [...combined.values()].map(({ judged }) => judged),
    );
    const uncovered = shown.judged.judgement.uncovered.filter((one) => !this.byKey.has(keyOf(one)));
    return {
      judgement: summed(characteristics, uncovered),
      shown: shown.one,
      measurement: shown.judged.measurement,
      combined,
      contradicting: [...this.contradicting],
    };
  }
}

/**
 * One operation of a frame by all its valid inspections, as they come: each characteristic from all of them that measured it, by
 * whatever plan, each with the U of its own plan. Features are averaged, never readings: two set-ups have two zeros. The order
 * of the inspections does not change the verdict, but that a later one with another gauge settles what an earlier one felt
 * against its own readings. Another inspection costs the same however many were before, unless it settles an earlier one or
 * changes the drawing whose limits decide: then all are put together anew, though none is judged again.
 */
export class OperationJudging<One extends InspectionEvidence> {
  private readonly inspections: One[] = [];
  private isAsked = false;
  private settling: { readonly by: SettledByAnotherGauge; count: number } | null = null;
  private together: PutTogether<One> | null = null;
  private known: JudgedTogether<One> | null = null;

  /** @param asked - what the batch's plan asks for; null where nobody says, as in a file */
  constructor(private readonly asked: AskedEvidence | null) {}

  get count(): number {
    return this.inspections.length;
  }

  /** @param inspection - a valid one of the frame and operation since its last rework, not older than those before */
  add(inspection: One): void {
    const { asked } = this;
    this.inspections.push(inspection);
    this.isAsked ||= !inspection.planCounts || (asked !== null && isSameDrawing(inspection.drawing, asked.drawing));
    this.known = null;
  }

  /** Null where there are none. */
  judged(): JudgedTogether<One> | null {
    const newest = this.inspections.at(-1);
    if (newest === undefined) return null;
    if (this.known !== null) return this.known;
    // The newest inspection's, or that of the batch's plan as soon as it was measured by it.
    const drawing = this.asked !== null && this.isAsked ? this.asked.drawing : newest.drawing;
    if (this.together?.drawing !== drawing) [this.together, this.settling] = [null, null];
    const settled = this.settled(drawing);
    const inspections = this.inspections.map((one) => settledWith(one, settled.get(one)));
    const isAsBefore = this.together?.inspections.every((one, place) => one === inspections[place]) ?? false;
    const together =
      this.together !== null && isAsBefore ? this.together : new PutTogether<One>(drawing, this.asked?.plan ?? null);
    this.together = together;
    for (const one of inspections.slice(together.inspections.length)) together.add(one, this.lackingOf(one));
    if (together.shown !== null) this.known = together.judged(together.shown);
    return this.known;
  }

  private lackingOf({ planCounts, compiled }: One): Lacking | null {
    return this.asked === null || planCounts ? null : lackingBy(compiled, this.asked.compiled);
  }

  /** What later inspections have settled of earlier ones, each judged by itself. */
  private settled(drawing: ShellDrawing): ReadonlyMap<InspectionEvidence, FeltSides> {
    const settling = this.settling ?? { by: new SettledByAnotherGauge(), count: 0 };
    this.settling = settling;
    for (const inspection of this.inspections.slice(settling.count)) {
      const lacking = this.lackingOf(inspection);
      settling.by.add({
        inspection,
        characteristics: judgeUnder(inspection, drawing).judgement.characteristics,
        isComplete: (one) => (lacking?.get(keyOf(one)) ?? NOTHING).length === 0,
      });
      settling.count += 1;
    }
    return settling.by.settled();
  }
}

/**
 * Judges one operation of a frame by some valid inspections, oldest first; see `OperationJudging`.
 *
 * @returns null where there are none
 */
export function judgeTogether<One extends InspectionEvidence>(
  inspections: readonly One[],
  asked: AskedEvidence | null,
): JudgedTogether<One> | null {
  const judging = new OperationJudging<One>(asked);
  for (const one of inspections) judging.add(one);
  return judging.judged();
}
