import { type FeltSide, FELT_SUBJECTS, type FeltSubject, feltSubjectOf } from "../core/metrology/felt-subject";
import { formatReadingName } from "../core/metrology/reading-name";
import { type FeltSides, isFeltContradiction } from "./felt-sides";
import type { InspectionEvidence } from "./inspection-evidence";
import type { JudgedCharacteristic } from "./judge-frame";

/** An inspection judged by itself, by the limits that decide. */
export type JudgedAlone = {
  readonly inspection: InspectionEvidence;
  readonly characteristics: readonly JudgedCharacteristic[];
  /** True where it measured a characteristic as the batch's plan asks. */
  readonly isComplete: (judged: JudgedCharacteristic) => boolean;
};

/** One trial: what was felt, and with which gauge. */
type Trial = { readonly result: string; readonly gauge: string | null };

function gaugeAt({ gauges }: InspectionEvidence, index: number): string | null {
  return gauges?.[index] ?? null;
}

/** Everything that an inspection felt of one subject, by the name of the trial. */
function trialsOf(inspection: InspectionEvidence, subject: FeltSubject): Map<string, Trial> {
  const { felt, compiled } = inspection;
  const found: [string, string][] =
    subject === "bar"
      ? (felt?.bars ?? []).map(({ set, result }) => [formatReadingName({ kind: "bar", set }), result])
      : (["ds", "nds"] as const).flatMap((seat) =>
          `${seat}.plug` === subject
            ? (felt?.plugs?.[seat] ?? []).map(({ sizeMm, feel, across }): [string, string] => [
                formatReadingName({ kind: "plug", seat, sizeMm, ...(across === true ? { across } : {}) }),
                feel,
              ])
            : [],
        );
  return new Map(
    found.map(([label, result]) => [label, { result, gauge: gaugeAt(inspection, compiled.labels.indexOf(label)) }]),
  );
}

/** Gauges that took the readings of some characteristics; a reading without one counts as null. */
function readingGauges(
  { compiled, ...inspection }: InspectionEvidence,
  subject: FeltSubject,
): ReadonlySet<string | null> {
  const covered = compiled.covered.filter((one) => feltSubjectOf(one) === subject && one.felt !== true);
  return new Set(covered.flatMap(({ indices }) => indices.map((index) => gaugeAt({ compiled, ...inspection }, index))));
}

/** True where both sets are known, not empty, and have nothing in common. */
function areOthers(these: ReadonlySet<string | null>, those: ReadonlySet<string | null>): boolean {
  const known = [these, those].every((set) => set.size > 0 && !set.has(null));
  return known && [...these].every((key) => !those.has(key));
}

/** A later inspection that repeats all trials of an earlier one, without doubt: with what, and what it felt. */
type Repeat = {
  readonly feltWith: ReadonlySet<string | null>;
  readonly readWith: ReadonlySet<string | null>;
  readonly isFeltAlike: boolean;
};

/** An inspection as one subject sees it. */
type Seen = {
  readonly inspection: InspectionEvidence;
  readonly open: readonly JudgedCharacteristic[];
  /** What it proves to conform, as keys of characteristics. */
  readonly proven: ReadonlySet<string>;
  readonly trials: ReadonlyMap<string, Trial>;
  readonly readWith: ReadonlySet<string | null>;
};

type Open = Seen & { readonly feltWith: ReadonlySet<string | null>; readonly repeats: Map<string, Repeat> };

const nameOf = ({ name, seat }: JudgedCharacteristic): string => `${name} ${seat ?? ""}`;

function provenBy({ characteristics, isComplete }: JudgedAlone): ReadonlySet<string> {
  const first = new Map<string, JudgedCharacteristic>();
  for (const one of characteristics) if (!first.has(nameOf(one))) first.set(nameOf(one), one);
  const proves = (one: JudgedCharacteristic) => one.verdict === "conforms" && one.value !== null && isComplete(one);
  return new Set([...first].flatMap(([key, one]) => (proves(one) ? [key] : [])));
}

/** How a later inspection repeats an earlier contradiction; null where it says nothing of it. */
function repeatOf(earlier: Open, later: Seen): Repeat | null {
  if (!earlier.open.every((one) => later.proven.has(nameOf(one)))) return null;
  const repeated = [...earlier.trials].map(([label, trial]) => ({ trial, again: later.trials.get(label) }));
  if (repeated.length === 0 || repeated.some(({ again }) => again === undefined)) return null;
  return {
    feltWith: new Set(repeated.map(({ again }) => again?.gauge ?? null)),
    readWith: later.readWith,
    isFeltAlike: repeated.every(({ trial, again }) => trial.result === again?.result),
  };
}

/** All that tells one repeat from another. */
const signatureOf = ({ feltWith, readWith, isFeltAlike }: Repeat): string =>
  JSON.stringify([[...feltWith].sort(), [...readWith].sort(), isFeltAlike]);

type Gauges = Readonly<Record<FeltSide, ReadonlySet<string | null>>>;

/** The side of an earlier contradiction with which a repeat of it agrees by another gauge; null where it settles nothing. */
function sideProven({ feltWith, readWith, isFeltAlike }: Repeat, gauges: Gauges): FeltSide | null {
  if (areOthers(gauges.felt, feltWith)) return "readings";
  return isFeltAlike && areOthers(gauges.readings, readWith) ? "felt" : null;
}

/** What is settled of one subject, as inspections come. */
class SettledSubject {
  private readonly open: Open[] = [];
  private readonly felt = new Set<string | null>();
  private readonly readings = new Set<string | null>();

  constructor(private readonly subject: FeltSubject) {}

  add(one: JudgedAlone): void {
    const { subject } = this;
    const open = one.characteristics.filter(
      (each) => feltSubjectOf(each) === subject && isFeltContradiction(each.code),
    );
    if (open.length === 0 && this.open.length === 0) return;
    const { inspection } = one;
    const trials = trialsOf(inspection, subject);
    const seen: Seen = {
      inspection,
      open,
      proven: provenBy(one),
      trials,
      readWith: readingGauges(inspection, subject),
    };
    for (const earlier of this.open) {
      const repeat = repeatOf(earlier, seen);
      if (repeat === null) continue;
      const signature = signatureOf(repeat);
      if (!earlier.repeats.has(signature)) earlier.repeats.set(signature, repeat);
    }
    if (open.length === 0) return;
    const feltWith = new Set([...trials.values()].map(({ gauge }) => gauge));
    for (const gauge of feltWith) this.felt.add(gauge);
    for (const gauge of seen.readWith) this.readings.add(gauge);
    this.open.push({ ...seen, feltWith, repeats: new Map() });
  }

  settled(): [InspectionEvidence, FeltSide][] {
    const { felt, readings, open } = this;
    const gauges = { felt, readings };
    // A side is given up only where it was found with the same gauges each time.
    const isOneGauge = {
      readings: open.every(({ feltWith }) => feltWith.size === felt.size),
      felt: open.every(({ readWith }) => readWith.size === readings.size),
    };
    return open.flatMap(({ inspection, repeats }): [InspectionEvidence, FeltSide][] => {
      for (const repeat of repeats.values()) {
        const side = sideProven(repeat, gauges);
        if (side !== null) return isOneGauge[side] ? [[inspection, side]] : [];
      }
      return [];
    });
  }
}

/**
 * Contradictions between feeling and reading that a later inspection with another gauge has settled, each by the side that it
 * agrees with: all trials repeated with other plugs or bars, and the shell proven to conform by both, says that the first plug
 * or bar was wrong; the same trials with the same result, and readings by other gauges that agree with them, say that the first
 * readings were wrong. Trying again with the same gauges settles nothing, nor does a gauge without a name. Nor is a side given
 * up that two gauges found: then somebody decides.
 *
 * Inspections of one operation are added as they come, oldest first; another one costs the same however often the same gauges
 * came before.
 */
export class SettledByAnotherGauge {
  private readonly subjects = FELT_SUBJECTS.map((subject) => ({ subject, seen: new SettledSubject(subject) }));

  add(one: JudgedAlone): void {
    for (const { seen } of this.subjects) seen.add(one);
  }

  /** For each inspection what is settled of it; those of which nothing is are left out. */
  settled(): ReadonlyMap<InspectionEvidence, FeltSides> {
    const settled = new Map<InspectionEvidence, FeltSides>();
    for (const { subject, seen } of this.subjects)
      for (const [inspection, side] of seen.settled())
        settled.set(inspection, { ...settled.get(inspection), [subject]: side });
    return settled;
  }
}
