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

function contradictions({ characteristics }: JudgedAlone, subject: FeltSubject): JudgedCharacteristic[] {
  return characteristics.filter((one) => feltSubjectOf(one) === subject && isFeltContradiction(one.code));
}

/** True where a later inspection proves that all of some characteristics conform, with nothing in doubt. */
function proves(later: JudgedAlone, open: readonly JudgedCharacteristic[]): boolean {
  return open.every((one) => {
    const found = later.characteristics.find(({ name, seat }) => name === one.name && seat === one.seat);
    return found?.verdict === "conforms" && found.value !== null && later.isComplete(found);
  });
}

/** The side of an earlier contradiction with which a later inspection agrees by another gauge; null where it settles nothing. */
function sideProven(
  earlier: JudgedAlone,
  later: JudgedAlone,
  { subject, gauges }: { readonly subject: FeltSubject; readonly gauges: Record<FeltSide, ReadonlySet<string | null>> },
): FeltSide | null {
  if (!proves(later, contradictions(earlier, subject))) return null;
  const before = trialsOf(earlier.inspection, subject);
  const after = trialsOf(later.inspection, subject);
  const repeated = [...before].map(([label, trial]) => ({ trial, again: after.get(label) }));
  if (repeated.length === 0 || repeated.some(({ again }) => again === undefined)) return null;
  const feltAgain = new Set(repeated.map(({ again }) => again?.gauge ?? null));
  if (areOthers(gauges.felt, feltAgain)) return "readings";
  const isFeltAlike = repeated.every(({ trial, again }) => trial.result === again?.result);
  return isFeltAlike && areOthers(gauges.readings, readingGauges(later.inspection, subject)) ? "felt" : null;
}

const union = (sets: readonly ReadonlySet<string | null>[]): ReadonlySet<string | null> =>
  new Set(sets.flatMap((set) => [...set]));

/**
 * Contradictions between feeling and reading that a later inspection with another gauge has settled, each by the side that it
 * agrees with: all trials repeated with other plugs or bars, and the shell proven to conform by both, says that the first plug
 * or bar was wrong; the same trials with the same result, and readings by other gauges that agree with them, say that the first
 * readings were wrong. Trying again with the same gauges settles nothing, nor does a gauge without a name. Nor is a side given
 * up that two gauges found: then somebody decides.
 *
 * @param list - inspections of one operation, oldest first
 * @returns for each inspection what is settled of it; those of which nothing is are left out
 */
export function settledByAnotherGauge(list: readonly JudgedAlone[]): ReadonlyMap<InspectionEvidence, FeltSides> {
  const settled = new Map<InspectionEvidence, FeltSides>();
  for (const subject of FELT_SUBJECTS) {
    const open = list.filter((one) => contradictions(one, subject).length > 0);
    const feltWith = open.map(
      (one) => new Set([...trialsOf(one.inspection, subject).values()].map(({ gauge }) => gauge)),
    );
    const readWith = open.map((one) => readingGauges(one.inspection, subject));
    const gauges = { felt: union(feltWith), readings: union(readWith) };
    const isOneGauge = (sets: readonly ReadonlySet<string | null>[], all: ReadonlySet<string | null>): boolean =>
      sets.every((set) => set.size === all.size);
    for (const earlier of open) {
      const after = list.slice(list.indexOf(earlier) + 1);
      const sides = after.map((later) => sideProven(earlier, later, { subject, gauges }));
      const side = sides.find((one) => one !== null) ?? null;
      if (
        side === null ||
        !isOneGauge(side === "readings" ? feltWith : readWith, gauges[side === "readings" ? "felt" : "readings"])
      )
        continue;
      settled.set(earlier.inspection, { ...settled.get(earlier.inspection), [subject]: side });
    }
  }
  return settled;
}
