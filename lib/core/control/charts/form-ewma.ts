import type { DistributionModel } from "../../distributions/distribution-model";
import { modelCdf, modelSf } from "../../distributions/distribution-model";
import { modelMasses } from "../../distributions/model-course";
import { CoreError } from "../../errors";
import { brentRoot } from "../../numerics/brent-root";
import { lagrangeValues, legendrePlaces } from "../../numerics/lagrange-values";
import { solveLinear } from "../../numerics/solve-linear";
import type { ChartEstimate } from "./chart-result";
import { assertAllFinite, checkedExclusions } from "./chart-signals";
import { baselineWarnings, chartWithConstantLines } from "./individuals-chart";

/** A one-sided average of a form deviation: where it starts, its weight and the limit that it must not pass. */
export type FormEwma = Readonly<{
  /** Weight of the newest value, 0.05 to 1. */
  lambda: number;
  /** Value before the first one: the mean of the distribution. */
  start: number;
  /** Upper limit, unit of the values. */
  limit: number;
}>;

export const USUAL_FORM_WEIGHT = 0.25;
/** The beyond-limit test beside it alarms once in 741 frames. Common practice, no source. */
export const USUAL_FORM_RUN_LENGTH = 1000;

/** Places at which the run length is held, and panels (16 nodes each) of the integral over a value. */
type Fineness = Readonly<{ places: number; panels: number }>;
const FINE: Fineness = { places: 34, panels: 6 };
/** For the search of a limit, which is asked for at every frame that arrives late: the run length to about 0.1 %. */
const COARSE: Fineness = { places: 14, panels: 3 };
const LIMIT_TOLERANCE = 1e-4;
const MOMENT_PANELS = 6;
/** A longer run length has lost its digits. */
const MOST_POINTS = 1e9;
/** Deviations of the average below its mean that are followed where the values have no lower end. */
const REACH_BELOW = 9;
/** Steps of a gauge below this part of the standard deviation shorten the run length by less than 2 %. */
const COARSE_STEP = 0.4;
/** Places between which the run length of rounded values is a straight line: it has jumps, so no polynomial fits it. */
const ROUNDED_PLACES = 64;
/** Chance beyond the largest rounded value that is followed. */
const LEAST_CHANCE = 1e-13;
const MOST_ROUNDED = 400;

/**
 * Upper limit of a one-sided EWMA of values of a fitted distribution (ovality, run-out, taper's size, tilt): bounded by zero
 * and skewed, so that a normal chart's limit would alarm too often.
 *
 * @param model - the distribution fitted to the baseline
 * @param options - lambda, 0.25 by default; inControl, mean run length without a change, 10 to 100,000, 1,000 by default;
 *   resolution of a gauge that shows multiples of it only, > 0, unit of the values
 * @returns weight, start (mean of what is charted) and limit
 * @throws CoreError out-of-range; not-converged where no limit has that run length
 * Method: the limit whose run length (formEwmaRunLength) is the one asked for; for a resolution of 0.4 standard deviations or
 * more that of the rounded values, which the limit of exact ones would let alarm up to ten times as often.
 * Accuracy: with a resolution the run length within 5 % of simulation, tests/core/control/charts/form-ewma.test.ts
 */
export function formEwma(
  model: DistributionModel,
  options: Readonly<{ lambda?: number; inControl?: number; resolution?: number }> = {},
): FormEwma {
  const { lambda = USUAL_FORM_WEIGHT, inControl = USUAL_FORM_RUN_LENGTH } = options;
  assertWeight("formEwma", lambda);
  if (!(inControl >= 10 && inControl <= 1e5)) {
    throw new CoreError("out-of-range", `formEwma: inControl must be from 10 to 100,000; got ${inControl}`);
  }
  const { resolution } = options;
  if (resolution !== undefined && !(resolution > 0 && resolution < Infinity)) {
    throw new CoreError("out-of-range", `formEwma: resolution must be > 0; got ${resolution}`, { resolution });
  }
  const exact = momentsOf(model);
  const rounded = (resolution ?? 0) >= COARSE_STEP * exact.sd ? roundedMasses(model, resolution ?? 0) : null;
  const { mean, sd, high } = rounded === null ? exact : massMoments(rounded);
  const spread = sd * Math.sqrt(lambda / (2 - lambda));
  // In spreads above the mean; the logarithm of the run length is nearly straight there.
  const excess = (steps: number) => {
    const design = { lambda, start: mean, limit: mean + steps * spread };
    const length = rounded === null ? runLengthAt(model, design, 1, COARSE) : roundedRunLength(rounded, design);
    return Math.log(length / inControl);
  };
  const most = (high - mean) / spread;
  let up = Math.min(3, most);
  while (up < most && excess(up) < 0) up = Math.min(most, up + 2);
  const low = up > 3 ? up - 2 : 0.05;
  if (!(excess(low) < 0 && excess(up) >= 0)) {
    throw new CoreError("not-converged", `formEwma: no limit has a run length of ${inControl} for this distribution`);
  }
  return { lambda, start: mean, limit: mean + spread * brentRoot(excess, low, up, LIMIT_TOLERANCE) };
}

/**
 * Mean run length of a one-sided EWMA on independent values of a distribution.
 * Formula: L(u) = 1 + integral over x with (1 - lambda) u + lambda x <= limit of L((1 - lambda) u + lambda x) f(x) dx.
 *
 * @param model - distribution of the values
 * @param design - see FormEwma
 * @param factor - the values are so many times those of the model, > 0; 1 by default
 * @returns mean number of points to the signal, >= 1
 * @throws CoreError out-of-range; not-converged where the chart practically never signals
 * Method: collocation at 34 Gauss-Legendre places between which L is their polynomial; the integral over x on panels that
 *   grow from the lower end, where a density may be steep.
 * Accuracy: 7 digits against the integral equation of the normal chart; simulation within 3 standard errors
 * Source: Crowder 1987, Technometrics 29(4) 401-407 (the equation, for the normal distribution)
 */
export function formEwmaRunLength(model: DistributionModel, design: FormEwma, factor = 1): number {
  const { lambda, start, limit } = design;
  assertWeight("formEwmaRunLength", lambda);
  if (!(factor > 0 && factor < Infinity)) {
    throw new CoreError("out-of-range", `formEwmaRunLength: factor must be a finite number > 0; got ${factor}`);
  }
  if (!(limit > start) || !Number.isFinite(start)) {
    throw new CoreError("out-of-range", `formEwmaRunLength: limit must be above start; got ${limit} and ${start}`);
  }
  const mean = runLengthAt(model, design, factor, FINE);
  if (!(mean >= 1 && mean < MOST_POINTS))
    throw new CoreError("not-converged", "formEwmaRunLength: the chart practically never signals");
  return mean;
}

/** The run length; where it is too long for digits, the longest that is told. */
function runLengthAt(
  model: DistributionModel,
  { lambda, start, limit }: FormEwma,
  factor: number,
  { places: count, panels }: Fineness,
): number {
  const { mean, sd, lowest } = momentsOf(model);
  const floor = mean * factor - REACH_BELOW * sd * factor * Math.sqrt(lambda / (2 - lambda));
  const bottom = Math.min(start, Math.max(lowest * factor, floor));
  const places = legendrePlaces(bottom, limit, count);
  /** Weights of L at the places in the integral from a value of the average. */
  const weightsFrom = (from: number): Float64Array => {
    const weights = new Float64Array(count);
    const kept = (1 - lambda) * from;
    const { values, masses } = modelMasses(model, (limit - kept) / lambda / factor, panels);
    const shares = lagrangeValues(
      places,
      values.map((value) => Math.max(bottom, kept + lambda * factor * value)),
    );
    masses.forEach((mass, i) => {
      for (let k = 0; k < count; k++) weights[k]! += mass * shares[i * count + k]!;
    });
    return weights;
  };
  const matrix = new Float64Array(count * count);
  places.forEach((place, row) =>
    weightsFrom(place).forEach((weight, col) => (matrix[row * count + col] = (row === col ? 1 : 0) - weight)),
  );
  const lengths = solveLinear(matrix, new Float64Array(count).fill(1));
  const length = 1 + weightsFrom(start).reduce((sum, weight, place) => sum + weight * lengths[place]!, 0);
  return length >= 1 && length < MOST_POINTS ? length : MOST_POINTS;
}

type Masses = { readonly values: Float64Array; readonly masses: Float64Array };

/** What a gauge that shows multiples of a step shows of a quantity, and how often. */
function roundedMasses(model: DistributionModel, step: number): Masses {
  const values: number[] = [];
  const masses: number[] = [];
  const { mean, lowest } = momentsOf(model);
  for (let k = Math.floor(Math.min(lowest, mean) / step); values.length < MOST_ROUNDED; k++) {
    const [from, to] = [(k - 0.5) * step, (k + 0.5) * step];
    const upper = k * step > mean;
    const mass = upper ? modelSf(model, from) - modelSf(model, to) : modelCdf(model, to) - modelCdf(model, from);
    values.push(k * step);
    masses.push(Math.max(0, mass));
    if (upper && modelSf(model, to) < LEAST_CHANCE) break;
  }
  return { values: Float64Array.from(values), masses: Float64Array.from(masses) };
}

/** Run length on rounded values: a chain on places of equal distance, each step shared by the two places about it. */
function roundedRunLength({ values, masses }: Masses, { lambda, start, limit }: FormEwma): number {
  const bottom = Math.min(start, values[0]!);
  const width = (limit - bottom) / (ROUNDED_PLACES - 1);
  const weightsFrom = (from: number): Float64Array => {
    const weights = new Float64Array(ROUNDED_PLACES);
    for (let i = 0; i < values.length; i++) {
      const next = from + lambda * (values[i]! - from);
      if (next > limit) break;
      const place = Math.min(Math.max((next - bottom) / width, 0), ROUNDED_PLACES - 1);
      const low = Math.min(Math.floor(place), ROUNDED_PLACES - 2);
      weights[low]! += masses[i]! * (low + 1 - place);
      weights[low + 1]! += masses[i]! * (place - low);
    }
    return weights;
  };
  const matrix = new Float64Array(ROUNDED_PLACES ** 2);
  for (let row = 0; row < ROUNDED_PLACES; row++)
    weightsFrom(bottom + row * width).forEach(
      (weight, col) => (matrix[row * ROUNDED_PLACES + col] = (row === col ? 1 : 0) - weight),
    );
  const lengths = solveLinear(matrix, new Float64Array(ROUNDED_PLACES).fill(1));
  const length = 1 + weightsFrom(start).reduce((sum, weight, place) => sum + weight * lengths[place]!, 0);
  return length >= 1 && length < MOST_POINTS ? length : MOST_POINTS;
}

/** Mean and standard deviation of a model, and the ends of what it reaches. */
function momentsOf(model: DistributionModel) {
  return massMoments(modelMasses(model, Infinity, MOMENT_PANELS));
}

function massMoments({ values, masses }: Masses) {
  const origin = values[values.length >> 1]!;
  let [mass, first, second] = [0, 0, 0];
  values.forEach((value, i) => {
    mass += masses[i]!;
    first += masses[i]! * (value - origin);
    second += masses[i]! * (value - origin) ** 2;
  });
  const mean = first / mass;
  const sd = Math.sqrt(Math.max(0, second / mass - mean * mean));
  return { mean: origin + mean, sd, lowest: values[0]!, high: values.at(-1)! };
}

export type FormEwmaOptions = Readonly<{
  ewma: FormEwma;
  excluded?: readonly number[];
  /** Number of frames that the distribution was fitted to, for the warning about short baselines. */
  baseline?: number;
}>;

/**
 * Chart of the one-sided EWMA of a form deviation: the companion of quantile limits for small shifts.
 * Formula: z_t = lambda x_t + (1 - lambda) z_(t-1), z_0 = start; a signal where z > limit.
 *
 * @param values - number[n], unit u, all finite, in the order of time
 * @param options - see FormEwmaOptions; formEwma makes the ewma
 * @returns main chart "ewma" without companions and lower limit; an excluded value leaves the average as it was
 * @throws CoreError not-finite, out-of-range
 */
export function formEwmaChart(values: readonly number[], options: FormEwmaOptions): ChartEstimate {
  const name = "formEwmaChart";
  const { lambda, start, limit } = options.ewma;
  assertAllFinite(name, values);
  assertWeight(name, lambda);
  assertAllFinite(name, [start, limit], "ewma");
  if (values.length === 0) return { ok: false, reason: "There is no value to chart." };
  const excluded = checkedExclusions(name, options.excluded, values.length);
  const leftOut = new Set(excluded);
  let average = start;
  const averages = values.map((value, index) => {
    if (leftOut.has(index)) return null;
    average += lambda * (value - average);
    return average;
  });
  const warnings = options.baseline === undefined ? [] : baselineWarnings(options.baseline);
  const main = chartWithConstantLines(
    {
      kind: "ewma",
      phase: 2,
      values: averages,
      sizes: null,
      excluded,
      rules: FORM_EWMA_RULES,
      estimates: {
        centre: start,
        sigma: (limit - start) / 3,
        sigmaMethod: "fitted distribution",
        count: options.baseline ?? 0,
        details: { lambda, start, limit },
      },
      warnings,
    },
    { centre: start, lower: null, upper: limit, sigma: null },
  );
  return { ok: true, value: { main, companions: [], estimates: main.estimates }, warnings };
}

/** The one rule of the average. */
export const FORM_EWMA_RULES = [{ id: "ewma", test: "beyond-limit" }] as const;

function assertWeight(name: string, lambda: number): void {
  if (!(lambda >= 0.05 && lambda <= 1)) {
    throw new CoreError("out-of-range", `${name}: lambda must be from 0.05 to 1; got ${lambda}`, { lambda });
  }
}
