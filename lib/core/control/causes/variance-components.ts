import { CoreError, type Estimate } from "../../errors";
import { leastSquaresFactors } from "../../numerics/least-squares";
import { isRoundingNoise } from "../charts/point-statistics";

/** One observation with the level of each factor. */
export type FactoredValue = Readonly<{ value: number; levels: Readonly<Record<string, string>> }>;

export type VarianceComponent = Readonly<{
  /** The factor; "residual" for what no factor explains. */
  factor: string;
  levels: number;
  /** Estimate, unit squared; a negative one is 0, and `raw` keeps it. */
  variance: number;
  raw: number;
  sd: number;
  /** Share of the sum of all components, 0 to 1. */
  share: number;
}>;

export type VarianceComponents = Readonly<{
  count: number;
  mean: number;
  total: number;
  /** Largest first. */
  components: readonly VarianceComponent[];
}>;

/** Fewer levels than this make an estimate that is often off by half or more. Common practice, no source. */
const FEW_LEVELS = 5;

type Grouping = { readonly factor: string; readonly of: readonly number[]; readonly sizes: readonly number[] };

function groupingOf(factor: string, values: readonly FactoredValue[]): Grouping {
  const places = new Map<string, number>();
  const of = values.map(({ levels }, index) => {
    const level = levels[factor];
    if (level === undefined)
      throw new CoreError(
        "invalid-argument",
        `varianceComponents: every value must have a level of ${factor}; got none (at index ${index})`,
      );
    const place = places.get(level) ?? places.size;
    places.set(level, place);
    return place;
  });
  const sizes = new Array<number>(places.size).fill(0);
  for (const place of of) sizes[place]! += 1;
  return { factor, of, sizes };
}

/** The factors that can be looked at, and in words those that cannot. */
function usableGroupings(factors: readonly string[], values: readonly FactoredValue[]) {
  const groupings: Grouping[] = [];
  const leftOut: string[] = [];
  for (const factor of factors) {
    const grouping = groupingOf(factor, values);
    const levels = grouping.sizes.length;
    if (levels < 2) leftOut.push(`The factor ${factor} has one level only: its share cannot be seen.`);
    else if (levels >= values.length)
      leftOut.push(`The factor ${factor} has a level for every value: it cannot be told from the rest.`);
    else groupings.push(grouping);
  }
  return { groupings, leftOut };
}

/** Two factors that split the values alike, or null. Levels are numbered as they come, so that alike means equal. */
function alikeFactors(groupings: readonly Grouping[]): readonly [string, string] | null {
  for (const [index, one] of groupings.entries()) {
    const twin = groupings.slice(0, index).find((other) => other.of.every((place, at) => place === one.of[at]));
    if (twin) return [twin.factor, one.factor];
  }
  return null;
}

/** Each equation divided by its largest coefficient, the right side with it, so that the rank can be judged. */
function scaledRows(matrix: Float64Array, right: Float64Array): Float64Array {
  const n = right.length;
  for (let row = 0; row < n; row++) {
    let largest = 0;
    for (let column = 0; column < n; column++) largest = Math.max(largest, Math.abs(matrix[row * n + column]!));
    const scale = largest > 0 ? largest : 1;
    for (let column = 0; column < n; column++) matrix[row * n + column]! /= scale;
    right[row]! /= scale;
  }
  return matrix;
}

/** Sum over the groups of `a` of (sum over groups of `b` of n_ab^2) / n_a: the share of b's variance in a's squares. */
function overlap(a: Grouping, b: Grouping): number {
  const cells = new Map<number, number>();
  a.of.forEach((place, index) => {
    const key = place * b.sizes.length + b.of[index]!;
    cells.set(key, (cells.get(key) ?? 0) + 1);
  });
  let sum = 0;
  for (const [key, n] of cells) sum += (n * n) / a.sizes[Math.floor(key / b.sizes.length)]!;
  return sum;
}

/**
 * Variance components of crossed or nested random factors, also unbalanced: how much of the variation is of the line, fixture,
 * tool, gauge, inspector, and how much of the frames themselves.
 * Formula: T_f = sum over levels of (sum of values)^2 / n, with expectation N mu^2 + sum_g k_fg s_g^2 + levels_f s_e^2;
 *   equations of all factors, of the total of squares and of the mean, solved for s^2.
 *
 * @param values - n values with one level of each factor, all finite
 * @param factors - names of the factors
 * @returns components, largest first. A factor with one level, or a level for every value, is left out with a warning; ok:
 *   false with a reason where none is left, where factors cannot be told apart or nothing varies
 * @throws CoreError too-few-values, not-finite, invalid-argument, duplicate
 * Method: Henderson's method 1 (analysis of variance of unbalanced data): unbiased, no distribution assumed
 * Edge cases: a negative estimate counts as 0, as is usual, and is given as `raw`
 * Source: Henderson 1953, Biometrics 9(2) 226-252; Searle, Casella and McCulloch, Variance Components, 1992, chapter 5
 */
export function varianceComponents(
  values: readonly FactoredValue[],
  factors: readonly string[],
): Estimate<VarianceComponents> {
  const n = values.length;
  if (n < 3) throw new CoreError("too-few-values", `varianceComponents: values must be at least 3; got ${n}`);
  if (factors.length === 0)
    throw new CoreError("too-few-values", "varianceComponents: factors must be at least 1; got 0");
  if (new Set(factors).size !== factors.length)
    throw new CoreError("duplicate", "varianceComponents: each factor must be named once");
  values.forEach(({ value }, index) => {
    if (!Number.isFinite(value))
      throw new CoreError("not-finite", `varianceComponents: values must be finite; got ${value} (at index ${index})`);
  });
  const origin = values[0]!.value;
  const y = values.map(({ value }) => value - origin);
  const shift = y.reduce((sum, each) => sum + each, 0) / n;
  const centred = y.map((each) => each - shift);
  const total = centred.reduce((sum, each) => sum + each * each, 0);
  if (
    isRoundingNoise(
      Math.sqrt(total / n),
      values.map(({ value }) => value),
    )
  )
    return { ok: false, reason: "All values are equal: there is no variation to take apart." };
  const { groupings, leftOut } = usableGroupings(factors, values);
  if (groupings.length === 0) return { ok: false, reason: leftOut.join(" ") };
  const twins = alikeFactors(groupings);
  if (twins !== null) {
    return {
      ok: false,
      reason: `The factors ${twins[0]} and ${twins[1]} change together: their shares cannot be told apart. Leave one out.`,
    };
  }
  // Centred values: the squares of the mean vanish, and with them mu; what the mean takes from each equation stays.
  const p = groupings.length;
  const whole: Grouping = { factor: "", of: new Array<number>(n).fill(0), sizes: [n] };
  const matrix = new Float64Array((p + 1) * (p + 1));
  const right = new Float64Array(p + 1);
  const meanTerm = groupings.map((g) => overlap(whole, g));
  groupings.forEach((f, row) => {
    const sums = new Array<number>(f.sizes.length).fill(0);
    f.of.forEach((place, index) => (sums[place]! += centred[index]!));
    right[row] = sums.reduce((sum, each, place) => sum + (each * each) / f.sizes[place]!, 0);
    groupings.forEach((g, column) => (matrix[row * (p + 1) + column] = overlap(f, g) - meanTerm[column]!));
    matrix[row * (p + 1) + p] = f.sizes.length - 1;
  });
  right[p] = total;
  groupings.forEach((_, column) => (matrix[p * (p + 1) + column] = n - meanTerm[column]!));
  matrix[p * (p + 1) + p] = n - 1;
  const solved = leastSquaresFactors({ rows: p + 1, cols: p + 1, data: scaledRows(matrix, right) });
  if (!solved.ok) {
    return {
      ok: false,
      reason: `The factors ${groupings.map(({ factor }) => factor).join(", ")} change together: their shares cannot be told apart.`,
    };
  }
  const { inverse } = solved.value;
  const solution = Array.from({ length: p + 1 }, (_, row) => {
    let sum = 0;
    for (let column = 0; column <= p; column++) sum += inverse.data[row * (p + 1) + column]! * right[column]!;
    return sum;
  });
  const raw = [...solution];
  const kept = raw.map((each) => Math.max(0, each));
  const sum = kept.reduce((all, each) => all + each, 0);
  const components = kept.map((variance, index) => ({
    factor: groupings[index]?.factor ?? "residual",
    levels: groupings[index]?.sizes.length ?? n,
    variance,
    raw: raw[index]!,
    sd: Math.sqrt(variance),
    share: sum > 0 ? variance / sum : 0,
  }));
  const warnings = [...leftOut];
  if (raw.some((each) => each < 0)) {
    warnings.push("A negative estimate counts as 0: the factor shows no variation of its own.");
  }
  for (const { factor, sizes } of groupings) {
    if (sizes.length < FEW_LEVELS) {
      warnings.push(`The factor ${factor} has ${sizes.length} levels only: its share is a rough guess.`);
    }
  }
  return {
    ok: true,
    warnings,
    value: {
      count: n,
      mean: origin + shift,
      total: sum,
      components: components.sort((a, b) => b.variance - a.variance),
    },
  };
}
