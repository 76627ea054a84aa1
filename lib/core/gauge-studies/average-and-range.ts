import type { Estimate } from "../errors";
import { isRoundingNoise } from "../control/charts/point-statistics";
import { normalRangeMoments } from "../distributions/normal-range";
import { sampleMean } from "../numerics/descriptive-statistics";
import type { CrossedLayout } from "./crossed-layout";
import { allEqual, nothingResolved } from "./nothing-resolved";
import { rangeConstant } from "./range-constant";
import { categoriesOf, type StudySds } from "./study-components";

export type AverageAndRange = Readonly<{
  sds: Omit<StudySds, "interaction">;
  distinctCategories: number | null;
  /** Divisors d2*: of the mean range of the trials, of the range of the inspectors' means and of the parts' means. */
  divisors: Readonly<{ repeatability: number; reproducibility: number; part: number }>;
  meanRange: number;
  /** Mean range and mean of each inspector, in the order of the layout. */
  inspectors: readonly Readonly<{ inspector: string; meanRange: number; mean: number }>[];
  rangeOfInspectors: number;
  rangeOfParts: number;
  partMeans: readonly number[];
  /** Upper control limit of the ranges (mean range + 3 sd), and the cells that lie strictly beyond it. */
  rangeLimit: number;
  beyond: readonly Readonly<{ part: string; inspector: string; range: number }>[];
  /** Whether the range of the inspectors is no larger than what repeatability alone gives. */
  isReproducibilityZero: boolean;
}>;

const rangeOf = (values: readonly number[]) => Math.max(...values) - Math.min(...values);
/** More than this many parts, inspectors or trials have no exact constant. */
const MOST = 100;

/**
 * Repeatability and reproducibility by average and range.
 * Formula: EV = R / d2*, AV = sqrt((X / d2*)^2 - EV^2 / (p r)), PV = R_p / d2*, GRR^2 = EV^2 + AV^2, TV^2 = GRR^2 + PV^2
 *
 * @param layout - 2..100 parts, inspectors and trials
 * @returns see AverageAndRange; ok: false with a reason where all readings are equal, or beyond 100 of a kind
 * Method: exact constants. It does not see the interaction of inspector and part, and gives no intervals.
 * Accuracy: 9 digits on tests/reference/gauge-studies.json, case grr-average-range
 * Edge cases: a negative square counts as 0, and `isReproducibilityZero` says so
 * Source: Duncan, Quality Control and Industrial Statistics; the manual of measurement systems analysis of the trade, report form
 */
export function averageAndRange(layout: CrossedLayout): Estimate<AverageAndRange> {
  const { parts, inspectors, trials, values } = layout;
  const [p, o, r] = [parts.length, inspectors.length, trials.length];
  if (Math.max(p, o, r) > MOST)
    return {
      ok: false,
      reason: `Average and range has constants for at most ${MOST} parts, inspectors and trials. Use the analysis of variance.`,
    };
  const noise = (spread: number) => (isRoundingNoise(spread, values) ? 0 : spread);
  const cells = Array.from({ length: p * o }, (_, cell) => values.slice(cell * r, (cell + 1) * r));
  const ranges = cells.map((cell) => noise(rangeOf(cell)));
  const cellMeans = cells.map(sampleMean);
  const meanRange = sampleMean(ranges);
  const partMeans = parts.map((_, part) => sampleMean(cellMeans.slice(part * o, (part + 1) * o)));
  const ofInspector = (of: readonly number[], inspector: number) => parts.map((_, part) => of[part * o + inspector]!);
  const perInspector = inspectors.map((inspector, at) => ({
    inspector,
    meanRange: sampleMean(ofInspector(ranges, at)),
    mean: sampleMean(ofInspector(cellMeans, at)),
  }));
  const rangeOfInspectors = noise(rangeOf(perInspector.map(({ mean }) => mean)));
  const rangeOfParts = noise(rangeOf(partMeans));
  if (meanRange === 0 && rangeOfInspectors === 0 && rangeOfParts === 0)
    return nothingResolved(values, allEqual(values.length));
  const divisors = {
    repeatability: rangeConstant(r, p * o),
    reproducibility: rangeConstant(o, 1),
    part: rangeConstant(p, 1),
  };
  const repeatability = meanRange / divisors.repeatability;
  const square = (rangeOfInspectors / divisors.reproducibility) ** 2 - repeatability ** 2 / (p * r);
  const reproducibility = Math.sqrt(Math.max(0, square));
  const gauge = Math.hypot(repeatability, reproducibility);
  const part = rangeOfParts / divisors.part;
  const total = Math.hypot(gauge, part);
  const moments = normalRangeMoments(r);
  const rangeLimit = meanRange * (1 + (3 * moments.sd) / moments.mean);
  const beyond = ranges.flatMap((range, cell) =>
    range > rangeLimit ? [{ part: parts[Math.floor(cell / o)]!, inspector: inspectors[cell % o]!, range }] : [],
  );
  return {
    ok: true,
    warnings: [],
    value: {
      sds: { repeatability, reproducibility, gauge, part, total },
      distinctCategories: categoriesOf((gauge / total) ** 2),
      divisors,
      meanRange,
      inspectors: perInspector,
      rangeOfInspectors,
      rangeOfParts,
      partMeans,
      rangeLimit,
      beyond,
      isReproducibilityZero: square < 0,
    },
  };
}
