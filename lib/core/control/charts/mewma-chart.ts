import { CoreError } from "../../errors";
import type { ChartEstimate } from "./chart-result";
import type { ChartSignal } from "../rules/chart-signal";
import { assertPositive, checkedExclusions, column, keptPoints } from "./chart-signals";
import { vectorEstimates } from "./hotelling-chart";
import {
  checkedBaseline,
  checkedDimensions,
  covarianceFactor,
  squaredDistance,
  vectorEstimate,
  type HotellingBaseline,
  type Vectors,
} from "./hotelling-covariance";
import { baselineWarnings } from "./individuals-chart";
import { mewmaLimitFor } from "../run-length/mewma-run-length";
import { LIMIT_TEST_ONLY } from "../rules/run-rules";

export type MewmaOptions = Readonly<{
  /** Weight of the newest vector, 0.02 to 1; 0.1 by default. */
  lambda?: number;
  /** Upper limit; by default the one with the run length `inControl`. */
  limit?: number;
  /** Mean run length without a shift that the limit is made for (asymptotic covariance), 370 by default. */
  inControl?: number;
  /** asymptotic (default): covariance of the average of a long series; exact: of its real length, quicker at the start. */
  covariance?: "asymptotic" | "exact";
  /** Approved baseline; without it mean and covariance (of successive differences) come from these vectors. */
  baseline?: HotellingBaseline;
  excluded?: readonly number[];
}>;

/**
 * Multivariate EWMA chart: finds small shifts of a vector that T2 lets pass.
 * Formula: z_t = lambda (x_t - m) + (1 - lambda) z_(t-1), z_0 = 0; statistic z_t' C^-1 z_t with
 * C = S lambda / (2 - lambda), exact: times 1 - (1 - lambda)^(2 t).
 *
 * @param vectors - number[n][p], p from 2 to 10, one unit for all components, all finite, in the order of time
 * @param options - see MewmaOptions
 * @returns main chart "mewma" without companions; no lower limit, no zones; the centre line is p, the mean of the statistic
 *   of a process that did not change. The points of a signal are those since the statistic was last below p. An excluded
 *   vector leaves the average as it was (its point is null). estimates as hotellingChart, details has lambda and limit.
 *   ok: false with a reason as hotellingChart
 * @throws CoreError length-mismatch, not-finite, out-of-range, degenerate
 * Source: Lowry, Woodall, Champ and Rigdon 1992, Technometrics 34(1) 46-53
 */
export function mewmaChart(vectors: Vectors, options: MewmaOptions = {}): ChartEstimate {
  const name = "mewmaChart";
  const { lambda = 0.1, inControl = 370, covariance = "asymptotic" } = options;
  const p = checkedDimensions(name, vectors);
  if (!(lambda >= 0.02 && lambda <= 1)) {
    throw new CoreError("out-of-range", `${name}: lambda must be from 0.02 to 1; got ${lambda}`, { lambda });
  }
  assertPositive(name, "limit", options.limit);
  const excluded = checkedExclusions(name, options.excluded, vectors.length);
  const kept = [...keptPoints(column(vectors.length, 0), excluded)];
  if (kept.length === 0) return { ok: false, reason: "There is no vector to chart." };
  const given = options.baseline !== undefined;
  if (!given && kept.length < p + 3) {
    return {
      ok: false,
      reason: `A multivariate EWMA of ${p} components needs at least ${p + 3} vectors or a baseline; there ${kept.length === 1 ? "is 1" : `are ${kept.length}`}.`,
    };
  }
  const baseline =
    options.baseline ??
    vectorEstimate(
      kept.map((index) => vectors[index]!),
      "successive-differences",
    );
  const factor = given ? checkedBaseline(name, baseline, p).factor : covarianceFactor(baseline.covariance);
  if (factor === null) {
    return {
      ok: false,
      reason: "A component does not vary or follows from the others: check the gauge's resolution and the components.",
    };
  }
  const limit = options.limit ?? mewmaLimitFor(p, lambda, inControl);
  const values = column<number | null>(vectors.length, null);
  const average = new Float64Array(p);
  let steps = 0;
  for (const index of kept) {
    steps++;
    for (let k = 0; k < p; k++) {
      average[k] = lambda * (vectors[index]![k]! - baseline.mean[k]!) + (1 - lambda) * average[k]!;
    }
    const share = covariance === "exact" ? -Math.expm1(2 * steps * Math.log1p(-lambda)) : 1;
    values[index] = squaredDistance(factor, average) / ((share * lambda) / (2 - lambda));
  }
  const estimates = vectorEstimates(baseline, given ? "given" : "covariance of successive differences", {
    p,
    lambda,
    limit,
  });
  const warnings = given ? [] : baselineWarnings(kept.length);
  const n = vectors.length;
  return {
    ok: true,
    value: {
      main: {
        kind: "mewma",
        phase: given ? 2 : 1,
        values,
        sizes: null,
        centre: column(n, p),
        lower: column(n, null),
        upper: column(n, limit),
        sigma: null,
        excluded,
        rules: LIMIT_TEST_ONLY,
        signals: signalsAbove(values, limit, p),
        estimates,
        warnings,
      },
      companions: [],
      estimates,
    },
    warnings,
  };
}

function signalsAbove(values: readonly (number | null)[], limit: number, rest: number): ChartSignal[] {
  const signals: ChartSignal[] = [];
  let since: number[] = [];
  values.forEach((value, index) => {
    if (value === null) return;
    if (value < Math.min(rest, limit)) since = [];
    else since.push(index);
    if (value > limit) signals.push({ index, rule: LIMIT_TEST_ONLY[0]!.id, side: "upper", points: [...since] });
  });
  return signals;
}
