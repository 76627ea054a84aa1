import { CoreError } from "../../errors";
import type { ChartEstimate, ChartEstimates } from "./chart-result";
import { checkedExclusions, column, keptPoints } from "./chart-signals";
import {
  checkedBaseline,
  checkedDimensions,
  covarianceFactor,
  meanVector,
  squaredDistance,
  vectorEstimate,
  type CovarianceMethod,
  type HotellingBaseline,
  type TriangularFactor,
  type Vectors,
} from "./hotelling-covariance";
import { hotellingLimit, type HotellingCase } from "./hotelling-limit";
import { baselineWarnings, withSignals } from "./individuals-chart";
import { LIMIT_TEST_ONLY } from "../rules/run-rules";

export type HotellingOptions = Readonly<{
  /** Upper tail probability of one point, 0.0027 by default (run length 370 with known limits). */
  alpha?: number;
  /** Approved baseline: makes a phase II chart. */
  baseline?: HotellingBaseline;
  /** Indices left out of estimates and tests. */
  excluded?: readonly number[];
}>;

export type HotellingIndividualsOptions = HotellingOptions & Readonly<{ covarianceMethod?: CovarianceMethod }>;

/** Subgroups of vectors, or what is left of them: their means, their covariances (n - 1) and sizes. */
export type HotellingSubgroups =
  readonly Vectors[] | Readonly<{ means: Vectors; covariances: readonly Vectors[]; sizes: readonly number[] }>;

const DEPENDENT =
  "A component does not vary or follows from the others, so there is no T2: check the gauge's resolution and the components.";

/**
 * Hotelling's T2 chart of individual vectors.
 * Formula: T2_i = (x_i - m)' S^-1 (x_i - m).
 *
 * @param vectors - number[n][p], p from 1 to 20, one unit for all components, all finite, in the order of time
 * @param options - see HotellingIndividualsOptions; covarianceMethod is sample by default
 * @returns main chart "t2" without companions; no lower limit, no zones; the centre line is the median of T2 of a process
 *   that did not change. estimates: centre and sigma are the length of the mean vector and the root of the mean variance;
 *   details has p, alpha, degreesOfFreedom, mean1 ..., covariance11, covariance12 ... (1-based). ok: false with a reason
 *   for too few vectors (phase I needs p + 3) or dependent components
 * @throws CoreError length-mismatch, not-finite, out-of-range; degenerate for a given covariance that is not positive
 *   definite
 * Accuracy: exact limits in phase I (beta) and II (F); see hotellingLimit
 * Source: Tracy, Young and Mason 1992, Journal of Quality Technology 24(2) 88-95
 */
export function hotellingChart(vectors: Vectors, options: HotellingIndividualsOptions = {}): ChartEstimate {
  const name = "hotellingChart";
  const { covarianceMethod = "sample" } = options;
  const p = checkedDimensions(name, vectors);
  assertAlpha(name, options.alpha);
  const excluded = checkedExclusions(name, options.excluded, vectors.length);
  const kept = keptPoints(column(vectors.length, 0), excluded);
  if (kept.length === 0) return { ok: false, reason: "There is no vector to chart." };
  if (options.baseline) {
    const { factor, baseline } = checkedBaseline(name, options.baseline, p);
    return assemble({ ...known(baseline), factor, baseline, points: vectors, sizes: null, excluded, options });
  }
  if (kept.length < p + 3) {
    return {
      ok: false,
      reason: `A T2 chart of ${p} components needs at least ${p + 3} vectors to set limits from; there ${kept.length === 1 ? "is 1" : `are ${kept.length}`}.`,
    };
  }
  const baseline = vectorEstimate(
    Array.from(kept, (index) => vectors[index]!),
    covarianceMethod,
  );
  const factor = covarianceFactor(baseline.covariance);
  if (factor === null) return { ok: false, reason: DEPENDENT };
  const method = covarianceMethod === "sample" ? "sample covariance" : "covariance of successive differences";
  return assemble({
    which: covarianceMethod === "sample" ? "individuals-1" : "successive-1",
    method,
    factor,
    baseline,
    points: vectors,
    sizes: null,
    excluded,
    options,
    groups: kept.length,
  });
}

/**
 * Hotelling's T2 chart of subgroup means; sizes may differ.
 * Formula: T2_i = n_i (xbar_i - m)' S^-1 (xbar_i - m), S pooled within subgroups, m weighted by size.
 *
 * @param subgroups - vectors of each subgroup (at least one subgroup of two), or means, covariances and sizes
 * @param options - see HotellingOptions; a baseline's covariance is of one vector
 * @returns as hotellingChart
 * @throws CoreError length-mismatch, not-finite, out-of-range, too-few-values for an empty subgroup
 * Accuracy: printed digits and 9 digits of the recomputation in tests/reference/hotelling.json
 * Source: Montgomery, Introduction to Statistical Quality Control, 11.3; Alt 1985, Encyclopedia of Statistical Sciences 6
 */
export function hotellingMeanChart(subgroups: HotellingSubgroups, options: HotellingOptions = {}): ChartEstimate {
  const name = "hotellingMeanChart";
  assertAlpha(name, options.alpha);
  const { means, covariances, sizes } =
    "means" in subgroups ? checkedSummaries(name, subgroups) : summaries(name, subgroups);
  const p = checkedDimensions(name, means);
  const excluded = checkedExclusions(name, options.excluded, means.length);
  const kept = [...keptPoints(column(means.length, 0), excluded)];
  if (kept.length === 0) return { ok: false, reason: "There is no subgroup to chart." };
  if (options.baseline) {
    const { factor, baseline } = checkedBaseline(name, options.baseline, p);
    return assemble({ ...known(baseline), factor, baseline, points: means, sizes, excluded, options });
  }
  const count = kept.reduce((sum, index) => sum + sizes[index]!, 0);
  const degreesOfFreedom = count - kept.length;
  if (degreesOfFreedom < p || kept.length < 2) {
    return {
      ok: false,
      reason: `A T2 chart of ${p} components needs at least two subgroups and ${p} degrees of freedom within them; there are ${kept.length} and ${degreesOfFreedom}.`,
    };
  }
  const covariance = Array.from({ length: p }, (_, row) =>
    Array.from({ length: p }, (_, col) => {
      const sum = kept.reduce((total, i) => total + (sizes[i]! - 1) * covariances[i]![row]![col]!, 0);
      return sum / degreesOfFreedom;
    }),
  );
  const factor = covarianceFactor(covariance);
  if (factor === null) return { ok: false, reason: DEPENDENT };
  const mean = meanVector(
    kept.map((index) => means[index]!),
    kept.map((index) => sizes[index]!),
  );
  return assemble({
    which: "means-1",
    method: "pooled covariance within subgroups",
    factor,
    baseline: { mean, covariance, count, degreesOfFreedom },
    points: means,
    sizes,
    excluded,
    options,
    groups: kept.length,
  });
}

/**
 * The baseline that a phase I chart of individual vectors rests on, for the phase II chart that follows it.
 *
 * @param vectors - number[n][p], n >= 2, all finite
 * @param covarianceMethod - sample by default
 * @throws CoreError too-few-values, length-mismatch, not-finite
 */
export function hotellingBaseline(vectors: Vectors, covarianceMethod: CovarianceMethod = "sample"): HotellingBaseline {
  checkedDimensions("hotellingBaseline", vectors);
  if (vectors.length < 2) {
    throw new CoreError(
      "too-few-values",
      `hotellingBaseline: vectors must have at least 2 entries; got ${vectors.length}`,
    );
  }
  return vectorEstimate(vectors, covarianceMethod);
}

type Assembly = Readonly<{
  which: HotellingCase;
  method: string;
  factor: TriangularFactor;
  baseline: HotellingBaseline;
  points: Vectors;
  sizes: readonly number[] | null;
  excluded: readonly number[];
  options: HotellingOptions;
  /** Points that the estimates rest on, for the warnings of a phase I chart. */
  groups?: number;
}>;

function known({ count }: HotellingBaseline): { which: HotellingCase; method: string } {
  return { which: count === null ? "known" : "future", method: "given" };
}

function assemble(assembly: Assembly): ChartEstimate {
  const { which, method, factor, baseline, points, sizes, excluded, groups } = assembly;
  const { alpha = 0.0027 } = assembly.options;
  const p = factor.dimensions;
  const lineOf = (probability: number, size: number) =>
    hotellingLimit({
      case: which,
      dimensions: p,
      alpha: probability,
      size,
      ...(baseline.count === null ? {} : { count: baseline.count }),
      ...(baseline.degreesOfFreedom === null ? {} : { degreesOfFreedom: baseline.degreesOfFreedom }),
    });
  const lines = new Map(
    [...new Set(sizes ?? [1])].map((n) => [n, { upper: lineOf(alpha, n), centre: lineOf(0.5, n) }]),
  );
  if ([...lines.values()].some(({ upper }) => upper === null)) {
    return { ok: false, reason: "There are too few vectors for this many components: T2 has no limit." };
  }
  const sizeOf = (index: number) => sizes?.[index] ?? 1;
  const values = points.map((point, index) => {
    const deviation = point.map((value, k) => value - baseline.mean[k]!);
    return sizeOf(index) * squaredDistance(factor, deviation);
  });
  const estimates = vectorEstimates(baseline, method, { p, alpha });
  const warnings = groups === undefined ? [] : baselineWarnings(groups);
  const main = withSignals({
    kind: "t2",
    phase: groups === undefined ? 2 : 1,
    values,
    sizes,
    centre: points.map((_, index) => lines.get(sizeOf(index))!.centre!),
    lower: column(points.length, null),
    upper: points.map((_, index) => lines.get(sizeOf(index))!.upper),
    sigma: null,
    excluded,
    rules: LIMIT_TEST_ONLY,
    estimates,
    warnings,
  });
  return { ok: true, value: { main, companions: [], estimates }, warnings };
}

/** Estimates of a chart of vectors as the shared structure has them. */
export function vectorEstimates(
  baseline: HotellingBaseline,
  sigmaMethod: string,
  more: Readonly<Record<string, number>>,
): ChartEstimates {
  const { mean, covariance, count, degreesOfFreedom } = baseline;
  const details: Record<string, number> = { ...more };
  if (degreesOfFreedom !== null) details.degreesOfFreedom = degreesOfFreedom;
  mean.forEach((value, k) => (details[`mean${k + 1}`] = value));
  covariance.forEach((row, r) => row.forEach((value, c) => (details[`covariance${r + 1}${c + 1}`] = value)));
  const trace = covariance.reduce((sum, row, k) => sum + row[k]!, 0);
  return {
    centre: Math.hypot(...mean),
    sigma: Math.sqrt(trace / mean.length),
    sigmaMethod,
    count: count ?? 0,
    details,
  };
}

function assertAlpha(name: string, alpha: number | undefined): void {
  if (alpha !== undefined && !(alpha > 0 && alpha < 1)) {
    throw new CoreError("out-of-range", `${name}: alpha must be above 0 and below 1; got ${alpha}`, { alpha });
  }
}

function summaries(name: string, subgroups: readonly Vectors[]) {
  checkedDimensions(name, subgroups.flat());
  subgroups.forEach((group, index) => {
    if (group.length === 0) {
      throw new CoreError("too-few-values", `${name}: subgroups must not be empty; got 0 vectors (at index ${index})`);
    }
  });
  return {
    means: subgroups.map((group) => meanVector(group)),
    covariances: subgroups.map((group) =>
      group.length > 1
        ? vectorEstimate(group, "sample").covariance
        : group[0]!.map(() => new Array<number>(group[0]!.length).fill(0)),
    ),
    sizes: subgroups.map((group) => group.length),
  };
}

function checkedSummaries(name: string, given: Exclude<HotellingSubgroups, readonly Vectors[]>) {
  const { means, covariances, sizes } = given;
  const p = checkedDimensions(name, means);
  if (covariances.length !== means.length || sizes.length !== means.length) {
    throw new CoreError("length-mismatch", `${name}: means, covariances and sizes must have one entry a subgroup`);
  }
  covariances.forEach((covariance, index) => {
    if (checkedDimensions(name, covariance) !== p || covariance.length !== p) {
      throw new CoreError("length-mismatch", `${name}: covariances must be ${p} x ${p} (at index ${index})`, { index });
    }
  });
  sizes.forEach((size, index) => {
    if (!Number.isInteger(size) || size < 1) {
      throw new CoreError("out-of-range", `${name}: sizes must be integers >= 1; got ${size} (at index ${index})`);
    }
  });
  return { means, covariances, sizes };
}
