import { CoreError, type Estimate } from "../errors";
import { fractionInterval } from "../distributions/binomial";
import { cohenKappa, fleissKappa, type DecisionPair, type Kappa } from "./kappa";

/** One decision of a study of agreement; `reference` is what the part is, where that is known. */
export type StudyDecision = Readonly<{
  part: string;
  inspector: string;
  trial: string;
  decision: string;
  reference: string | null;
}>;

/** Count with its share and the exact interval of it. */
export type CountedShare = Readonly<{ agreed: number; of: number; share: number; interval: readonly [number, number] }>;

export type DecisionAgreement = Readonly<{
  parts: number;
  inspectors: readonly string[];
  trials: number;
  categories: readonly string[];
  /** All inspectors and trials together; trials of one inspector; two inspectors, trial by trial. */
  fleiss: Estimate<Kappa>;
  within: readonly Readonly<{ inspector: string; alike: CountedShare; kappa: Estimate<Kappa> }>[] | null;
  pairs: readonly Readonly<{ inspectors: readonly [string, string]; kappa: Estimate<Kappa> }>[];
  /** Parts on which all inspectors decided alike in all trials. */
  alike: CountedShare;
  /** Against what the parts are; null where no reference is known. */
  reference:
    | readonly Readonly<{
        inspector: string;
        kappa: Estimate<Kappa>;
        /** Parts on which every trial agrees with the reference. */
        right: CountedShare;
        /** How often a part that is `reference` was called `decision`. */
        calls: readonly Readonly<{ reference: string; decision: string; count: number; of: number }>[];
      }>[]
    | null;
}>;

function counted(agreed: number, of: number, confidence: number): CountedShare {
  const { lower, upper } = fractionInterval(agreed, of, confidence);
  return { agreed, of, share: agreed / of, interval: [lower, upper] };
}

type Table = Readonly<{
  parts: readonly string[];
  inspectors: readonly string[];
  trials: readonly string[];
  categories: readonly string[];
  /** Category of a part, inspector and trial. */
  at: (part: number, inspector: number, trial: number) => number;
  references: readonly (number | null)[];
}>;

const distinct = (names: readonly string[]) => [...new Set(names)];

/** Sorts decisions; names what is missing. */
function tableOf(decisions: readonly StudyDecision[]): Estimate<Table> {
  const parts = distinct(decisions.map(({ part }) => part));
  const inspectors = distinct(decisions.map(({ inspector }) => inspector));
  const trials = distinct(decisions.map(({ trial }) => trial));
  const known = decisions.flatMap(({ reference }) => (reference === null ? [] : [reference]));
  const categories = distinct([...known, ...decisions.map(({ decision }) => decision)]);
  const placeOf = (names: readonly string[]) => new Map(names.map((name, place) => [name, place]));
  const places = [placeOf(parts), placeOf(inspectors), placeOf(trials), placeOf(categories)] as const;
  const cells = new Array<number>(parts.length * inspectors.length * trials.length).fill(-1);
  const references = new Array<number | null>(parts.length).fill(null);
  const place = (part: number, inspector: number, trial: number) =>
    (part * inspectors.length + inspector) * trials.length + trial;
  decisions.forEach(({ part, inspector, trial, decision, reference }, index) => {
    const p = places[0].get(part)!;
    const cell = place(p, places[1].get(inspector)!, places[2].get(trial)!);
    if (cells[cell] !== -1)
      throw new CoreError(
        "duplicate",
        `decisionAgreement: each decision must be there once; got part ${part}, inspector ${inspector}, trial ${trial} twice (at index ${index})`,
      );
    cells[cell] = places[3].get(decision)!;
    if (reference === null) return;
    const stands = places[3].get(reference)!;
    if (references[p] !== null && references[p] !== stands)
      throw new CoreError(
        "invalid-argument",
        `decisionAgreement: reference of a part must be one; got ${reference} and another for part ${part} (at index ${index})`,
      );
    references[p] = stands;
  });
  const missing = cells.flatMap((category, at) => {
    if (category !== -1) return [];
    const cell = Math.floor(at / trials.length);
    return [
      `part ${parts[Math.floor(cell / inspectors.length)]}, inspector ${inspectors[cell % inspectors.length]}, trial ${trials[at % trials.length]}`,
    ];
  });
  if (missing.length > 0)
    return {
      ok: false,
      reason: `Decisions are missing: ${missing.slice(0, 5).join("; ")}${missing.length > 5 ? ` and ${missing.length - 5} more` : ""}. Every inspector has to decide on every part as often as the others.`,
    };
  const value = {
    parts,
    inspectors,
    trials,
    categories,
    references,
    at: (p: number, o: number, k: number) => cells[place(p, o, k)]!,
  };
  return { ok: true, warnings: [], value };
}

/** Decisions of an inspector against what the parts are, those without a reference left out. */
function againstReference(table: Table, confidence: number): DecisionAgreement["reference"] {
  const { inspectors, trials, categories, references, at } = table;
  const known = references.flatMap((reference, part) => (reference === null ? [] : [{ part, reference }]));
  if (known.length === 0) return null;
  return inspectors.map((inspector, o) => {
    const pairs = known.map(({ part, reference }) => trials.map((_, k): DecisionPair => [reference, at(part, o, k)]));
    const right = pairs.filter((each) => each.every(([reference, decision]) => reference === decision)).length;
    const calls = categories.flatMap((reference, stands) => {
      const ofIt = pairs.flat().filter(([each]) => each === stands);
      if (ofIt.length === 0) return [];
      return categories.map((decision, called) => ({
        reference,
        decision,
        count: ofIt.filter(([, each]) => each === called).length,
        of: ofIt.length,
      }));
    });
    return {
      inspector,
      kappa: cohenKappa(pairs, categories.length, confidence),
      right: counted(right, known.length, confidence),
      calls,
    };
  });
}

/**
 * Agreement of decisions (go or no-go, or more categories): of each inspector with himself, of inspectors with one another and
 * with what the parts are.
 *
 * @param decisions - every inspector on every part equally often, in any order
 * @param confidence - of the two-sided intervals, default 0.95
 * @returns see DecisionAgreement; ok: false with a reason where decisions are missing, or for fewer than two parts
 * @throws CoreError duplicate, invalid-argument for a part with two references, out-of-range
 * Method: decisions on one part belong together in every interval; shares have exact intervals over parts.
 * Source: kappa.ts; Clopper and Pearson 1934, Biometrika 26, 404-413
 */
export function decisionAgreement(decisions: readonly StudyDecision[], confidence = 0.95): Estimate<DecisionAgreement> {
  const sorted = tableOf(decisions);
  if (!sorted.ok) return sorted;
  const table = sorted.value;
  const { parts, inspectors, trials, categories, references, at } = table;
  if (parts.length < 2) return { ok: false, reason: "Agreement needs decisions on at least two parts." };
  if (inspectors.length * trials.length < 2)
    return {
      ok: false,
      reason: "Each part was decided on once only: nothing can agree. Let a second inspector decide, or decide again.",
    };
  const countsOf = (who: readonly number[]) =>
    parts.map((_, part) => {
      const row = new Array<number>(categories.length).fill(0);
      for (const o of who) trials.forEach((__, k) => (row[at(part, o, k)]! += 1));
      return row;
    });
  const everybody = inspectors.map((_, o) => o);
  const wholly = (who: readonly number[]) =>
    counted(
      countsOf(who).filter((row) => row.filter((each) => each > 0).length === 1).length,
      parts.length,
      confidence,
    );
  const unknown = references.filter((reference) => reference === null).length;
  const warnings = [
    ...(unknown > 0 && unknown < parts.length
      ? [`${unknown} of ${parts.length} parts have no reference: they do not count against it.`]
      : []),
    ...(inspectors.length === 1 ? ["There is one inspector only: agreement between inspectors cannot be seen."] : []),
  ];
  return {
    ok: true,
    warnings,
    value: {
      parts: parts.length,
      inspectors,
      trials: trials.length,
      categories,
      fleiss: fleissKappa(countsOf(everybody), confidence),
      within:
        trials.length < 2
          ? null
          : inspectors.map((inspector, o) => ({
              inspector,
              alike: wholly([o]),
              kappa: fleissKappa(countsOf([o]), confidence),
            })),
      pairs: inspectors.flatMap((one, a) =>
        inspectors.slice(a + 1).map((other, offset) => ({
          inspectors: [one, other] as const,
          kappa: cohenKappa(
            parts.map((_, part) => trials.map((__, k): DecisionPair => [at(part, a, k), at(part, a + 1 + offset, k)])),
            categories.length,
            confidence,
          ),
        })),
      ),
      alike: wholly(everybody),
      reference: againstReference(table, confidence),
    },
  };
}
