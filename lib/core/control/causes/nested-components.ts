import { CoreError, type Estimate } from "../../errors";
import { meanSquareBounds, meanSquareFactors } from "../../gauge-studies/mean-square-bounds";
import { sampleMean } from "../../numerics/descriptive-statistics";
import { isRoundingNoise } from "../charts/point-statistics";

export type NestedComponent = Readonly<{
  /** Estimate, unit squared; a negative one is 0, and `raw` keeps it. */
  variance: number;
  raw: number;
  sd: number;
  /** Confidence interval of the variance, unit squared, cut at 0. */
  interval: readonly [number, number];
  /** Degrees of freedom that it rests on. */
  degrees: number;
  /** Share of the sum of all components, 0 to 1. */
  share: number;
}>;

export type NestedComponents = Readonly<{
  levels: number;
  cells: number;
  count: number;
  mean: number;
  /** Between the levels; null where there is one only. */
  between: NestedComponent | null;
  /** Between the cells of one level. */
  cell: NestedComponent;
  /** Within a cell. */
  within: NestedComponent;
}>;

type Squares = Readonly<{ square: number; degrees: number }>;

const harmonicMean = (sizes: readonly number[]): number =>
  sizes.length / sizes.reduce((sum, size) => sum + 1 / size, 0);

/** Sum of squares about the mean over the degrees of freedom, pooled over samples. */
function pooled(samples: readonly (readonly number[])[]): Squares {
  let [squares, degrees] = [0, 0];
  for (const sample of samples) {
    const mean = sampleMean(sample);
    for (const value of sample) squares += (value - mean) ** 2;
    degrees += sample.length - 1;
  }
  return { square: degrees === 0 ? 0 : squares / degrees, degrees };
}

/**
 * Variance components of values in cells in levels, as frames in shifts of an inspector, each with its interval.
 * Formula: V1 = variance of the level means, V2 = pooled variance of the cell means of a level, V3 = pooled variance within cells,
 *   level means being unweighted means of cell means; within = V3, cell = V2 - V3 / nh, between = V1 - V2 / bh,
 *   nh and bh harmonic means of the values a cell and of the cells a level
 *
 * @param groups - values[level][cell][value], every level with a cell, every cell with a value, all finite
 * @param confidence - of each interval, in (0, 1)
 * @returns see NestedComponents; ok: false with a reason where no level has two cells, no cell two values, or nothing varies
 * @throws CoreError too-few-values, not-finite, out-of-range
 * Method: unweighted means, which balanced data make the analysis of variance itself; intervals by modified large samples
 * Accuracy: exact for balanced data; intervals of 95 % cover 93 to 98 % with cells of 12 and 36 values, over 90 % with 3 and 30 (tests)
 * Edge cases: a negative estimate counts as 0
 * Source: Thomas and Hultquist 1978, Annals of Statistics 6(3) 582-587 (harmonic mean); Burdick and Graybill, Confidence Intervals on
 *   Variance Components, 1992, chapters 4 and 5 (from memory)
 */
export function nestedComponents(
  groups: readonly (readonly (readonly number[])[])[],
  confidence = 0.95,
): Estimate<NestedComponents> {
  const cells = groups.flat();
  if (cells.length === 0 || groups.some((level) => level.length === 0))
    throw new CoreError("too-few-values", "nestedComponents: every level must have a cell; got 0");
  const cellMeans = groups.map((level) => level.map((cell) => sampleMean(cell)));
  const within = pooled(cells);
  const cell = pooled(cellMeans);
  if (cell.degrees === 0) return { ok: false, reason: "No level has two cells: what cells differ by cannot be seen." };
  if (within.degrees === 0)
    return { ok: false, reason: "No cell has two values: what values differ by within a cell cannot be seen." };
  const levelMeans = cellMeans.map((level) => sampleMean(level));
  const levels = pooled([levelMeans]);
  const all = cells.flat();
  const total = pooled([all]);
  if (isRoundingNoise(Math.sqrt(total.square), all))
    return { ok: false, reason: "All values are equal: there is no variation to take apart." };
  const nh = harmonicMean(cells.map(({ length }) => length));
  const bh = harmonicMean(groups.map(({ length }) => length));
  const used = levels.degrees === 0 ? [cell, within] : [levels, cell, within];
  const factors = meanSquareFactors(
    used.map(({ degrees }) => degrees),
    confidence,
  );
  const squares = used.map(({ square }) => square);
  const found = (coefficients: readonly number[], degrees: number) => {
    const { lower, upper } = meanSquareBounds(factors, coefficients, squares);
    const raw = coefficients.reduce((sum, c, at) => sum + c * (squares[at] ?? 0), 0);
    const variance = Math.max(0, raw);
    return {
      variance,
      raw,
      sd: Math.sqrt(variance),
      interval: [Math.max(0, lower), Math.max(0, upper)] as const,
      degrees,
    };
  };
  const none = levels.degrees === 0 ? [] : [0];
  const parts = {
    between: levels.degrees === 0 ? null : found([1, -1 / bh, 0], levels.degrees),
    cell: found([...none, 1, -1 / nh], cell.degrees),
    within: found([...none, 0, 1], within.degrees),
  };
  const sum = (parts.between?.variance ?? 0) + parts.cell.variance + parts.within.variance;
  const shared = <T extends { readonly variance: number }>(part: T) => ({
    ...part,
    share: sum > 0 ? part.variance / sum : 0,
  });
  return {
    ok: true,
    warnings: [],
    value: {
      levels: groups.length,
      cells: cells.length,
      count: all.length,
      mean: sampleMean(levelMeans),
      between: parts.between === null ? null : shared(parts.between),
      cell: shared(parts.cell),
      within: shared(parts.within),
    },
  };
}
