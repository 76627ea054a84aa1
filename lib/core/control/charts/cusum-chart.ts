import { CoreError } from "../../errors";
import type { ChartEstimate, ChartEstimates, ChartKind, ChartResult } from "./chart-result";
import type { ChartSignal } from "../rules/chart-signal";
import { assertPositive, column } from "./chart-signals";
import { memoryBasis, type MemoryChartOptions } from "./ewma-chart";

export type CusumOptions = MemoryChartOptions &
  Readonly<{
    /** Reference value in sigma of a value: half the shift to be found; 0.5 by default. */
    k?: number;
    /** Decision interval in sigma of a value; 4.77 by default (two-sided run length 370 at k = 0.5). */
    h?: number;
    /** Head start as a fraction of h, 0 <= headStart < 1; 0 by default, 0.5 is usual. */
    headStart?: number;
    /** Start both sums anew (with the head start) after a signal. */
    restart?: boolean;
  }>;

/**
 * Tabular CUSUM chart, upper and lower.
 * Formula: C+_t = max(0, C+_(t-1) + x_t - (target + K)), C-_t = max(0, C-_(t-1) + (target - K) - x_t); K = k s, H = h s,
 * s = sigma / sqrt(n); C_0 = headStart H; a signal where C > H.
 *
 * @param values - number[n], unit u, all finite, in the order of time
 * @param options - see CusumOptions; sizes, if given, must be equal
 * @returns main chart "cusum-upper", companion "cusum-lower", both plotted as sums >= 0 with an upper limit H. The points
 *   of a signal are those since the sum left zero, or since the signal before where it goes on. estimates.details: k, h, headStart, and where a side signals
 *   upperLevel or lowerLevel, the new mean estimated at its first signal (target +- (K + C / count)). ok: false with a
 *   reason if sigma is not given and cannot be estimated
 * @throws CoreError not-finite, out-of-range, length-mismatch, invalid-argument for unequal sizes
 * Accuracy: the digits of tests/reference/control-charts.json
 * Source: Page 1954, Biometrika 41 100-115; head start: Lucas and Crosier 1982, Technometrics 24(3) 199-205
 * @example cusumChart([12], { target: 10, sigma: 1 }) // main.values[0] = 1.5
 */
export function cusumChart(values: readonly number[], options: CusumOptions = {}): ChartEstimate {
  const { k = 0.5, h = 4.77, headStart = 0, restart = false } = options;
  const name = "cusumChart";
  if (!(k >= 0 && k < Infinity)) {
    throw new CoreError("out-of-range", `${name}: k must be a finite number >= 0; got ${k}`, { k });
  }
  assertPositive(name, "h", h);
  if (!(headStart >= 0 && headStart < 1)) {
    throw new CoreError("out-of-range", `${name}: headStart must be from 0 to below 1; got ${headStart}`, {
      headStart,
    });
  }
  if (options.sizes?.some((size) => size !== options.sizes![0])) {
    throw new CoreError("invalid-argument", `${name}: sizes must be equal: a sum of unequal means has no one limit`);
  }
  const basis = memoryBasis(name, values, options);
  if (!basis.ok) return basis;
  const { target, sigma, sizes, excluded, phase } = basis.value;
  const unit = sigma / Math.sqrt(sizes?.[0] ?? 1);
  const leftOut = new Set(excluded);
  const sum = (sign: 1 | -1) =>
    accumulate(
      values.map((value, index) => (leftOut.has(index) ? null : sign * (value - target) - k * unit)),
      { limit: h * unit, start: headStart * h * unit, restart, side: sign === 1 ? "upper" : "lower" },
    );
  const upper = sum(1);
  const lower = sum(-1);
  const level = (side: "upper" | "lower", sums: Sums) => {
    const first = sums.signals[0];
    if (first === undefined) return {};
    const distance = k * unit + sums.values[first.index]! / first.points.length;
    return { [`${side}Level`]: side === "upper" ? target + distance : target - distance };
  };
  const estimates: ChartEstimates = {
    ...basis.value.estimates,
    details: {
      ...basis.value.estimates.details,
      k,
      h,
      headStart,
      ...level("upper", upper),
      ...level("lower", lower),
    },
  };
  const n = values.length;
  const chart = (kind: ChartKind, sums: Sums): ChartResult => ({
    kind,
    phase,
    values: sums.values,
    sizes,
    centre: column(n, 0),
    lower: column(n, null),
    upper: column(n, h * unit),
    sigma: null,
    excluded,
    rules: [],
    signals: sums.signals,
    estimates,
    warnings: basis.warnings,
  });
  return {
    ok: true,
    value: { main: chart("cusum-upper", upper), companions: [chart("cusum-lower", lower)], estimates },
    warnings: basis.warnings,
  };
}

type Sums = { values: (number | null)[]; signals: ChartSignal[] };

function accumulate(
  steps: readonly (number | null)[],
  rule: { limit: number; start: number; restart: boolean; side: "upper" | "lower" },
): Sums {
  const values: (number | null)[] = [];
  const signals: ChartSignal[] = [];
  let sum = rule.start;
  let leftZero = 0;
  let told = 0;
  steps.forEach((step, index) => {
    if (step === null) {
      values.push(null);
      return;
    }
    sum = Math.max(0, sum + step);
    if (sum === 0) leftZero = index + 1;
    values.push(sum);
    if (sum > rule.limit) {
      const points: number[] = [];
      for (let point = Math.max(leftZero, told); point <= index; point++) if (steps[point] !== null) points.push(point);
      told = index + 1;
      signals.push({ index, rule: `cusum-${rule.side}`, side: rule.side, points });
      if (rule.restart) {
        sum = rule.start;
        leftZero = index + 1;
      }
    }
  });
  return { values, signals };
}
