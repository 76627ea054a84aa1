import { CoreError, type Estimate } from "../errors";
import { isRoundingNoise } from "../control/charts/point-statistics";
import { fisherFSf } from "../distributions/fisher-f";
import { exactSum } from "../numerics/exact-sum";
import type { CrossedLayout } from "./crossed-layout";
import { allEqual, nothingResolved } from "./nothing-resolved";

/** One line of the table of an analysis of variance, unit squared. */
export type AnovaLine = Readonly<{ degrees: number; sumOfSquares: number; meanSquare: number }>;

/** What a mean square is divided by in a test. */
export type FDenominator = "repeatability" | "interaction" | "pooled";

/** Null where the denominator is 0. */
export type FTest = Readonly<{ f: number; degrees: readonly [number, number]; pValue: number }> | null;

/** Tests of part and inspector against one denominator. */
export type FTests = Readonly<{ part: FTest; inspector: FTest }>;

/** Variances of one model, unit squared. A negative estimate is there as 0, and as it is in `raw`. */
export type StudyVariances = Readonly<{
  repeatability: number;
  reproducibility: number;
  /** Null in the model without interaction. */
  interaction: number | null;
  part: number;
  raw: Readonly<{ reproducibility: number; interaction: number | null; part: number }>;
}>;

export type CrossedAnova = Readonly<{
  parts: number;
  inspectors: number;
  trials: number;
  mean: number;
  /** Mean of each inspector and each part less the mean of all, in the order of the layout. */
  inspectorEffects: readonly number[];
  partEffects: readonly number[];
  part: AnovaLine;
  inspector: AnovaLine;
  interaction: AnovaLine;
  repeatability: AnovaLine;
  /** Interaction and repeatability together. */
  pooled: AnovaLine;
  total: Readonly<{ degrees: number; sumOfSquares: number }>;
  interactionTest: FTest;
  tests: Readonly<Record<FDenominator, FTests>>;
  withInteraction: StudyVariances;
  withoutInteraction: StudyVariances;
}>;

const line = (degrees: number, sumOfSquares: number): AnovaLine => ({
  degrees,
  sumOfSquares,
  meanSquare: sumOfSquares / degrees,
});

function test(numerator: AnovaLine, denominator: AnovaLine): FTest {
  if (!(denominator.meanSquare > 0)) return null;
  const f = numerator.meanSquare / denominator.meanSquare;
  const degrees = [numerator.degrees, denominator.degrees] as const;
  return { f, degrees, pValue: fisherFSf(f, degrees) };
}

/** Variances from the mean squares; `error` is what parts and inspectors are compared with. */
function variancesOf(
  counts: { readonly parts: number; readonly inspectors: number; readonly trials: number },
  squares: {
    readonly part: number;
    readonly inspector: number;
    readonly error: number;
    readonly repeatability: number;
  },
  hasInteraction: boolean,
): StudyVariances {
  const { parts, inspectors, trials } = counts;
  const raw = {
    part: (squares.part - squares.error) / (inspectors * trials),
    reproducibility: (squares.inspector - squares.error) / (parts * trials),
    interaction: hasInteraction ? (squares.error - squares.repeatability) / trials : null,
  };
  return {
    repeatability: squares.repeatability,
    reproducibility: Math.max(0, raw.reproducibility),
    interaction: raw.interaction === null ? null : Math.max(0, raw.interaction),
    part: Math.max(0, raw.part),
    raw,
  };
}

/** Readings less the first one: exact for neighbours (Sterbenz), so that a large offset costs no digits. */
function meansOf({ parts, inspectors, trials, values }: CrossedLayout) {
  const [p, o, r] = [parts.length, inspectors.length, trials.length];
  const shifted = values.map((value) => value - values[0]!);
  const cells = Array.from({ length: p * o }, (_, cell) => exactSum(shifted.slice(cell * r, (cell + 1) * r)) / r);
  const partMeans = Array.from({ length: p }, (_, part) => exactSum(cells.slice(part * o, (part + 1) * o)) / o);
  const inspectorMeans = Array.from(
    { length: o },
    (_, inspector) => exactSum(partMeans.map((__, part) => cells[part * o + inspector]!)) / p,
  );
  return { shifted, cells, partMeans, inspectorMeans, mean: exactSum(partMeans) / p };
}

/**
 * Analysis of variance of a crossed study with random parts and random inspectors.
 * Formula: SS part = o r sum (m_p - m)^2, SS inspector = p r sum (m_o - m)^2, SS interaction = r sum (m_po - m_p - m_o + m)^2,
 *   SS repeatability = sum (x - m_po)^2; E MS part = s_e^2 + r s_po^2 + o r s_p^2, and so on.
 *
 * @param layout - p >= 2 parts, o >= 2 inspectors, r >= 2 trials
 * @returns see CrossedAnova; ok: false with a reason where all readings are equal, or differ by too little
 * @throws CoreError not-finite
 * Method: two passes over readings less the first one, compensated sums. Squares that are nothing but rounding of the readings are 0.
 * Accuracy: the printed digits of tests/reference/gauge-studies.json, 12 digits where its values were computed anew; NIST StRD
 *   per set in tests/core/gauge-studies/crossed-anova.test.ts
 * Source: Burdick, Borror and Montgomery, Design and Analysis of Gauge R&R Studies, 2005, chapter 3; three denominators:
 *   handbooks divide by repeatability, the random model by the interaction, or by both together where it was pooled
 */
export function crossedAnova(layout: CrossedLayout): Estimate<CrossedAnova> {
  const { parts, inspectors, trials, values } = layout;
  const [p, o, r] = [parts.length, inspectors.length, trials.length];
  const bad = values.findIndex((value) => !Number.isFinite(value));
  if (bad >= 0)
    throw new CoreError("not-finite", `crossedAnova: values must be finite; got ${values[bad]} (at index ${bad})`);
  const { shifted, cells, partMeans, inspectorMeans, mean } = meansOf(layout);
  const squares = (terms: readonly number[]) => {
    const sum = exactSum(terms.map((each) => each * each));
    return isRoundingNoise(Math.sqrt(sum / terms.length), values) ? 0 : sum;
  };
  const partEffects = partMeans.map((each) => each - mean);
  const inspectorEffects = inspectorMeans.map((each) => each - mean);
  const part = line(p - 1, o * r * squares(partEffects));
  const inspector = line(o - 1, p * r * squares(inspectorEffects));
  const interaction = line(
    (p - 1) * (o - 1),
    r * squares(cells.map((cell, at) => cell - partMeans[Math.floor(at / o)]! - inspectorEffects[at % o]!)),
  );
  const repeatability = line(p * o * (r - 1), squares(shifted.map((each, at) => each - cells[Math.floor(at / r)]!)));
  const pooled = line(
    interaction.degrees + repeatability.degrees,
    interaction.sumOfSquares + repeatability.sumOfSquares,
  );
  const total = part.sumOfSquares + inspector.sumOfSquares + pooled.sumOfSquares;
  if (!(total > 0)) return nothingResolved(values, allEqual(values.length));
  const counts = { parts: p, inspectors: o, trials: r };
  const against = (denominator: AnovaLine): FTests => ({
    part: test(part, denominator),
    inspector: test(inspector, denominator),
  });
  const ms = { part: part.meanSquare, inspector: inspector.meanSquare };
  const apart = { ...ms, error: interaction.meanSquare, repeatability: repeatability.meanSquare };
  const together = { ...ms, error: pooled.meanSquare, repeatability: pooled.meanSquare };
  return {
    ok: true,
    warnings: [],
    value: {
      ...counts,
      mean: values[0]! + mean,
      inspectorEffects,
      partEffects,
      part,
      inspector,
      interaction,
      repeatability,
      pooled,
      total: { degrees: p * o * r - 1, sumOfSquares: total },
      interactionTest: test(interaction, repeatability),
      tests: { repeatability: against(repeatability), interaction: against(interaction), pooled: against(pooled) },
      withInteraction: variancesOf(counts, apart, true),
      withoutInteraction: variancesOf(counts, together, false),
    },
  };
}
