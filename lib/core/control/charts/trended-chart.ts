import { CoreError } from "../../errors";
import { chartFactors, type ConstantsChoice } from "./chart-factors";
import type { ChartEstimate, ChartResult } from "./chart-result";
import { assertAllFinite, assertPositive, chartSignals, checkedExclusions } from "./chart-signals";
import { baselineWarnings } from "./individuals-chart";
import { average, isRoundingNoise } from "./point-statistics";
import { ZONE_TESTS, type RunRule } from "../rules/run-rules";

export type TrendedOptions = Readonly<{
  /** Wear so far at each value (frames since the tool change, by default the position within the life); any unit. */
  wear?: readonly number[];
  /** Indices at which a new tool life begins; 0 need not be named. */
  toolChanges?: readonly number[];
  /** common (default): one slope for all lives, a level for each. own: a slope for each life. */
  slope?: "common" | "own";
  sigmaMethod?: "residual" | "mean-moving-range";
  /** Given slope (value a unit of wear), level at wear 0 and sigma: a phase II chart. All three or none. */
  given?: Readonly<{ slope: number; level: number; sigma: number }>;
  sigmas?: number;
  constants?: ConstantsChoice;
  rules?: readonly RunRule[];
  excluded?: readonly number[];
}>;

/**
 * Chart with limits about a trend: a tool that wears moves the mean, and a flat chart would call that a signal. Each tool
 * life starts a new line.
 * Formula: centre_i = level_life + slope wear_i, least squares; sigma^2 = sum of squared residuals / (n - lines'
 * parameters), or MRbar of residuals within lives / d2; limits centre_i -/+ 3 sigma.
 *
 * @param values - number[n], unit u, all finite, in the order of time
 * @param options - see TrendedOptions
 * @returns main chart "trended", no companions; rules look at the deviations from the line. estimates.centre is the
 *   mean slope (u a unit of wear); details slope, level (of the last life), lives. ok: false with a reason if no life has
 *   enough values for a line, or nothing varies about it
 * @throws CoreError not-finite, length-mismatch, out-of-range, invalid-argument
 * Method: sums centred within each life; a common slope pools them.
 * Edge cases: a tool change at every value -> no answer; lives of one value have no residual and no limits of their own
 * Source: Mandel 1969, Journal of Quality Technology 1(1) 1-9 (regression control chart)
 * @example trendedChart([1, 2, 3.1, 3.9]) // ok, details.slope 0.98
 */
export function trendedChart(values: readonly number[], options: TrendedOptions = {}): ChartEstimate {
  const { sigmas = 3, rules = ZONE_TESTS, sigmaMethod = "residual", slope: slopeKind = "common", given } = options;
  const name = "trendedChart";
  assertAllFinite(name, values);
  assertPositive(name, "sigmas", sigmas);
  assertPositive(name, "sigma", given?.sigma);
  if (given !== undefined) assertAllFinite(name, [given.slope, given.level], "given");
  const n = values.length;
  if (n === 0) return { ok: false, reason: "There is no value to chart." };
  const starts = lifeStarts(name, options.toolChanges, n);
  const lifeOf = livesOf(starts, n);
  const wear = options.wear ?? values.map((_, index) => index - starts[lifeOf[index]!]!);
  if (wear.length !== n) {
    throw new CoreError("length-mismatch", `${name}: wear must have ${n} entries; got ${wear.length}`);
  }
  assertAllFinite(name, wear, "wear");
  const excluded = checkedExclusions(name, options.excluded, n);
  const leftOut = new Set(excluded);
  const lives = starts.map((start, life) =>
    indicesBetween(start, starts[life + 1] ?? n).filter((index) => !leftOut.has(index)),
  );
  const fit = given === undefined ? fitLives(values, wear, lives, slopeKind) : givenLines(given, lives.length);
  if (!fit.ok) return fit;
  const { lines, parameters } = fit.value;
  const centre = values.map((_, index) => {
    const line = lines[lifeOf[index]!]!;
    return line.level + line.slope * wear[index]!;
  });
  const residuals = values.map((value, index) => value - centre[index]!);
  const used = lives.flat();
  const sigma =
    given?.sigma ??
    residualSigma(residuals, lives, used.length - parameters, sigmaMethod, options.constants ?? "exact");
  if (isRoundingNoise(sigma, given === undefined ? values : [])) {
    return {
      ok: false,
      reason: "The values follow the line without any variation, so there is nothing to set limits from.",
    };
  }
  const zeros = values.map(() => 0);
  const limit = values.map(() => sigmas * sigma);
  // Rules look at deviations: a trend would be a run of rising points.
  const signals = chartSignals(
    {
      values: residuals,
      centre: zeros,
      sigma: values.map(() => sigma),
      lower: limit.map((distance) => -distance),
      upper: limit,
    },
    excluded,
    rules,
  );
  const last = lines[lines.length - 1]!;
  const warnings = given === undefined ? baselineWarnings(used.length) : [];
  const main: ChartResult = {
    kind: "trended",
    phase: given === undefined ? 1 : 2,
    values: [...values],
    sizes: null,
    centre,
    lower: centre.map((value) => value - sigmas * sigma),
    upper: centre.map((value) => value + sigmas * sigma),
    sigma: values.map(() => sigma),
    excluded,
    rules,
    signals,
    estimates: {
      centre: average(lines.map(({ slope }) => slope)),
      sigma,
      sigmaMethod: given === undefined ? sigmaMethod : "given",
      count: used.length,
      details: { slope: last.slope, level: last.level, lives: lives.length },
    },
    warnings,
  };
  return { ok: true, value: { main, companions: [], estimates: main.estimates }, warnings };
}

type Line = { slope: number; level: number };

function lifeStarts(name: string, changes: readonly number[] | undefined, n: number): number[] {
  for (const change of changes ?? []) {
    if (!Number.isInteger(change) || change < 0 || change >= n) {
      throw new CoreError("out-of-range", `${name}: toolChanges must hold indices from 0 to ${n - 1}; got ${change}`);
    }
  }
  return [...new Set([0, ...(changes ?? [])])].sort((a, b) => a - b);
}

/** The tool life that each value belongs to. */
function livesOf(starts: readonly number[], n: number): Int32Array {
  const lives = new Int32Array(n);
  let life = 0;
  for (let index = 0; index < n; index++) {
    if (starts[life + 1] === index) life++;
    lives[index] = life;
  }
  return lives;
}

function indicesBetween(start: number, end: number): number[] {
  return Array.from({ length: end - start }, (_, k) => start + k);
}

function givenLines({ slope, level }: Line, count: number) {
  const lines: Line[] = Array.from({ length: count }, () => ({ slope, level }));
  return { ok: true as const, value: { lines, parameters: 0 } };
}

function fitLives(
  values: readonly number[],
  wear: readonly number[],
  lives: readonly (readonly number[])[],
  slopeKind: "common" | "own",
) {
  const sums = lives.map((life) => {
    const meanWear = life.length > 0 ? average(life.map((index) => wear[index]!)) : 0;
    const mean = life.length > 0 ? average(life.map((index) => values[index]!)) : 0;
    let sxx = 0;
    let sxy = 0;
    for (const index of life) {
      sxx += (wear[index]! - meanWear) ** 2;
      sxy += (wear[index]! - meanWear) * (values[index]! - mean);
    }
    return { count: life.length, meanWear, mean, sxx, sxy };
  });
  const total = (of: (sum: (typeof sums)[number]) => number) => sums.reduce((sum, each) => sum + of(each), 0);
  const empty = sums.findIndex(({ count }) => count === 0);
  if (empty >= 0) return { ok: false as const, reason: `Every value of tool life ${empty + 1} is left out.` };
  const parameters = slopeKind === "common" ? lives.length + 1 : 2 * lives.length;
  if (!(total(({ sxx }) => sxx) > 0) || total(({ count }) => count) - parameters < 1) {
    return {
      ok: false as const,
      reason: "No tool life has enough values for a trend: tool changes follow each other too closely.",
    };
  }
  if (slopeKind === "own" && sums.some(({ sxx }) => !(sxx > 0))) {
    return { ok: false as const, reason: "A tool life has a single value: use one slope for all lives." };
  }
  const common = total(({ sxy }) => sxy) / total(({ sxx }) => sxx);
  const lines: Line[] = sums.map(({ meanWear, mean, sxx, sxy }) => {
    const slope = slopeKind === "common" ? common : sxy / sxx;
    return { slope, level: mean - slope * meanWear };
  });
  return { ok: true as const, value: { lines, parameters } };
}

function residualSigma(
  residuals: readonly number[],
  lives: readonly (readonly number[])[],
  freedom: number,
  method: "residual" | "mean-moving-range",
  constants: ConstantsChoice,
): number {
  if (method === "residual") {
    const squares = lives.flat().reduce((sum, index) => sum + residuals[index]! ** 2, 0);
    return Math.sqrt(squares / freedom);
  }
  const ranges = lives.flatMap((life) =>
    life.slice(1).map((index, k) => Math.abs(residuals[index]! - residuals[life[k]!]!)),
  );
  return ranges.length > 0 ? average(ranges) / chartFactors(2, constants).d2 : 0;
}
