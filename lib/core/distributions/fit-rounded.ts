import { CoreError } from "../errors";
import { gaussLegendreRule } from "../numerics/gauss-legendre";
import { maximise, type Slope } from "../numerics/maximise";
import type { DistributionModel } from "./distribution-model";
import { fitDistribution, type DistributionFit, type FittedFamily } from "./fit-distribution";
import { johnsonScore, johnsonSlope } from "./johnson";
import { normalCdf, normalInterval, normalLogDensity } from "./normal";
import { riceDensity } from "./rice";
import { centredFoldedSlope, foldedSlope, scaleSlope, shiftSlope } from "./rounded-slope";
import { type RoundedSample, shownMoments } from "./rounded-sample";

/** Fewer different values than this do not tell two parameters. */
const FEWEST_DIFFERENT = 3;
/** Nodes of an integral over an interval up to so many standard deviations of the sample: 7 digits or more. */
const NODE_COUNTS = [
  [0.5, 3],
  [1, 4],
  [3, 8],
  [Infinity, 20],
] as const;
/** From this offset on, in standard deviations, the search goes by the offset itself. */
const FAR_OFFSET = 1.5;
/** Squares of the offset below this, in variances, are not told from 0. */
const LEAST_SQUARE = 1e-2;
/** Where a search begins that knows of no offset. */
const USUAL_SQUARE = 0.3;
/** Where an offset is looked for: where small values were not shown, the likelihood may fall from 0 before it rises. */
const LOOKED_AT_SQUARES = [LEAST_SQUARE, USUAL_SQUARE, 0.7] as const;
/** Steps at which a search settles that starts near the maximum: the next would be its square. */
const ROUGHLY = 1e-2;

/**
 * Fit of one family to values that are known to intervals only, or partly censored (rounded or grouped data).
 * Formula: log likelihood = sum of n_i ln(F(high_i) - F(low_i)), of n_i ln f(x_i) where a value is as good as exact
 * @param family - which family
 * @param sample - different values with what they stand for; below 0 of a family on x > 0 counts as 0
 * @param start - a model of the family near the maximum (of a bootstrap: that of the whole sample); found otherwise
 * @returns fit, or null where values lie outside the family's support, fewer than three different values stand against two
 *   parameters, or the likelihood has no maximum; the normal model carries mean and sd (n - 1) as shown, without a
 *   correction for rounding, its likelihood is taken at the maximum
 * @throws CoreError out-of-range for a start of another family
 * Method: Newton's method on the likelihood of the intervals; the Johnson curve by the quantiles of the values spread evenly
 * over their intervals.
 * Accuracy: 7 digits of the parameters on tests/reference/rounded-fits.json
 * Source: Kulldorff 1961, Contributions to the Theory of Estimation from Grouped and Partially Grouped Samples; Heitjan
 *   1989, Statistical Science 4(2), 164-179
 */
export function fitRounded(
  family: FittedFamily,
  sample: RoundedSample,
  start: DistributionModel | null = null,
): DistributionFit | null {
  if (start !== null && start.family !== family) {
    throw new CoreError("out-of-range", `fitRounded: start must be of the family ${family}; got ${start.family}`);
  }
  const normal = family === "normal" || family === "johnson";
  if (!normal && sample.grid.zeroEnd === null && sample.values[0]! <= 0) return null;
  const few = sample.values.length < FEWEST_DIFFERENT;
  if (few && family !== "rayleigh" && family !== "normal") return null;
  switch (family) {
    case "normal": {
      const likely = few ? null : climbFromShown(sample, start !== null);
      const { mean, sd } = shownMoments(sample);
      const model = { family, mean, sd } as const;
      return { model, parameters: 2, logLikelihood: likely?.logLikelihood ?? logLikelihoodOf(model, sample) };
    }
    case "johnson": {
      const fit = fitDistribution("johnson", spreadValues(sample));
      if (fit === null) return null;
      const logLikelihood = logLikelihoodOf(fit.model, sample);
      return Number.isFinite(logLikelihood) ? { ...fit, logLikelihood } : null;
    }
    default: {
      const first = start ?? fitDistribution(family, spreadValues(sample))?.model ?? null;
      return first === null ? null : climb(first, sample, start !== null);
    }
  }
}

/**
 * The normal distribution of greatest likelihood for values that are known to intervals only.
 * @param sample - at least three different values
 * @returns model with the standard deviation of greatest likelihood (divisor n), or null where there is no maximum
 */
export function fitRoundedNormal(sample: RoundedSample): DistributionFit | null {
  return climbFromShown(sample, false);
}

/** Rounding moves the maximum of a normal likelihood little: the search begins at the moments as shown. */
function climbFromShown(sample: RoundedSample, roughly: boolean): DistributionFit | null {
  const { mean, sd } = shownMoments(sample);
  return climb({ family: "normal", mean, sd }, sample, roughly);
}

/**
 * The values of a sample spread evenly over what each stands for: those that are shown alike at the middles of equal parts.
 * @param sample - different values with what they stand for
 * @returns number[n], ascending; 0 is the lower end of what is shown as 0
 */
export function spreadValues({ values, low, high, counts, n }: RoundedSample): number[] {
  const spread: number[] = [];
  for (let i = 0; i < values.length; i++) {
    const from = low[i] === -Infinity ? 0 : low[i]!;
    for (let k = 0; k < counts[i]!; k++) spread.push(from + ((high[i]! - from) * (k + 0.5)) / counts[i]!);
  }
  if (spread.length !== n) throw new CoreError("length-mismatch", "spreadValues: counts must add up to n");
  return spread.sort((a, b) => a - b);
}

/** Climbs the likelihood from a model, in parameters of the order of 1 about it. */
function climb(from: DistributionModel, sample: RoundedSample, roughly = false): DistributionFit | null {
  const nodes = from.family === "rice" ? riceNodes(sample) : null;
  const climbOn = ({ start, modelAt, slopeAt }: Chart): DistributionFit | null => {
    const height = (at: readonly number[]) => {
      const model = modelAt(at);
      return model === null ? -Infinity : logLikelihoodOf(model, sample, nodes);
    };
    const top = maximise(height, start, roughly ? ROUGHLY : undefined, slopeAt && ((at) => slopeAt(at, sample)));
    const model = top === null ? null : modelAt(top.at);
    return top === null || model === null ? null : { model, parameters: 2, logLikelihood: top.value };
  };
  if (from.family !== "rice" && from.family !== "folded-normal") {
    const fit = climbOn(chartOf(from));
    return fit === null ? null : { ...fit, parameters: from.family === "rayleigh" ? 1 : 2 };
  }
  const [family, offset] = from.family === "rice" ? [from.family, from.offset] : [from.family, from.mu];
  const { sigma } = from;
  if (offset > FAR_OFFSET * sigma) {
    return climbOn({
      start: [offset / sigma, 0],
      modelAt: ([a, b]) => offsetModel(family, Math.abs(a!) * sigma, sigma * Math.exp(b!)),
    });
  }
  // Near 0 the likelihood is smooth in the square of the offset, and its greatest value may lie at the end, 0. It is looked
  // at along the ridge on which the mean square stays: there the slope of Rice at 0 is exactly 0.
  const spread = Math.hypot(sigma, offset / Math.SQRT2);
  const folded = family === "folded-normal";
  const centred = climbOn({
    start: [0],
    modelAt: ([b]) => offsetModel(family, 0, spread * Math.exp(b!)),
    ...(folded && { slopeAt: ([b], given) => centredFoldedSlope(spread * Math.exp(b!), given) }),
  });
  if (centred === null) return null;
  const width = sigmaOf(centred.model);
  const modelAt = ([a, b]: readonly number[]) =>
    a! >= 0 ? offsetModel(family, Math.sqrt(a!) * width, width * Math.exp(b!)) : null;
  const onRidge = (square: number) => [square, 0.5 * Math.log1p(family === "rice" ? -square / 2 : -square)];
  const heightAt = (square: number) => {
    const model = modelAt(onRidge(square));
    return model === null ? -Infinity : logLikelihoodOf(model, sample, nodes);
  };
  const rising = LOOKED_AT_SQUARES.filter((square) => heightAt(square) > centred.logLikelihood);
  if (rising.length === 0) return centred;
  const near = [(offset / width) ** 2, Math.log(sigma / width)];
  const far: Chart = {
    start: onRidge(Math.max(USUAL_SQUARE, rising[0]!)),
    modelAt,
    ...(folded && { slopeAt: (at, given) => foldedSlope(width, at, given) }),
  };
  return near[0]! < USUAL_SQUARE ? climbOn(far) : (climbOn({ ...far, start: near }) ?? climbOn(far));
}

function offsetModel(family: "rice" | "folded-normal", offset: number, sigma: number): DistributionModel | null {
  if (!(sigma > 0 && sigma < Infinity && offset < Infinity)) return null;
  return family === "rice" ? { family, offset, sigma } : { family, mu: offset, sigma };
}

function sigmaOf(model: DistributionModel): number {
  return "sigma" in model ? model.sigma : 1;
}

/** Parameters of a search, and the model at them. */
interface Chart {
  readonly start: readonly number[];
  readonly modelAt: (at: readonly number[]) => DistributionModel | null;
  /** Derivatives of the log likelihood by the parameters where they are known in closed form. */
  readonly slopeAt?: (at: readonly number[], sample: RoundedSample) => Slope | null;
}

/** Parameters of the order of 1 for the search, and the model at them. */
function chartOf(from: DistributionModel): Chart {
  const positive = (value: number) => value > 0 && value < Infinity;
  switch (from.family) {
    case "normal":
      return {
        start: [0, 0],
        modelAt: ([a, b]) => {
          const sd = from.sd * Math.exp(b!);
          return positive(sd) ? { family: "normal", mean: from.mean + from.sd * a!, sd } : null;
        },
        slopeAt: (at, sample) => scaleSlope("normal", (x) => (x - from.mean) / from.sd, at, sample),
      };
    case "lognormal":
      return {
        start: [0, 0],
        modelAt: ([a, b]) => {
          const logSd = from.logSd * Math.exp(b!);
          return positive(logSd) ? { family: "lognormal", logMean: from.logMean + from.logSd * a!, logSd } : null;
        },
        slopeAt: (at, sample) =>
          scaleSlope("normal", (x) => (x > 0 ? (Math.log(x) - from.logMean) / from.logSd : -Infinity), at, sample),
      };
    case "weibull":
      return {
        start: [0, 0],
        modelAt: ([a, b]) => {
          const shape = from.shape * Math.exp(b!);
          const scale = from.scale * Math.exp(a! / from.shape);
          return positive(shape) && positive(scale) ? { family: "weibull", shape, scale } : null;
        },
        slopeAt: (at, sample) =>
          scaleSlope("weibull", (x) => (x > 0 ? from.shape * Math.log(x / from.scale) : -Infinity), at, sample),
      };
    case "rayleigh":
      return {
        start: [0],
        modelAt: ([a]) => {
          const sigma = from.sigma * Math.exp(a! / 2);
          return positive(sigma) ? { family: "rayleigh", sigma } : null;
        },
        slopeAt: ([a], sample) =>
          shiftSlope("weibull", (x) => (x > 0 ? 2 * Math.log(x / (Math.SQRT2 * from.sigma)) : -Infinity), a!, sample),
      };
    default:
      throw new CoreError("invalid-argument", `fitRounded: no search for the family ${from.family}`);
  }
}

/** Log likelihood of a model for values known to intervals, or exactly. */
function logLikelihoodOf(
  model: DistributionModel,
  { low, high, counts, values }: RoundedSample,
  nodes: readonly Nodes[] | null = null,
): number {
  const { mass, logDensity } = lawOf(model);
  let sum = 0;
  for (let i = 0; i < values.length; i++) {
    const term =
      low[i] === high[i]
        ? logDensity(values[i]!)
        : Math.log(nodes === null ? mass(low[i]!, high[i]!) : overNodes(nodes[i]!, model));
    sum += counts[i]! * term;
    if (!(sum > -Infinity)) return -Infinity;
  }
  return sum;
}

interface Law {
  /** P(low < X <= high), each side in its own tail. */
  readonly mass: (low: number, high: number) => number;
  readonly logDensity: (x: number) => number;
}

function lawOf(model: DistributionModel): Law {
  switch (model.family) {
    case "normal": {
      const { mean, sd } = model;
      return {
        mass: (low, high) => interval((low - mean) / sd, (high - mean) / sd),
        logDensity: (x) => normalLogDensity((x - mean) / sd) - Math.log(sd),
      };
    }
    case "folded-normal": {
      const { mu, sigma } = model;
      return {
        mass: (low, high) => {
          const from = Math.max(0, low);
          return (
            interval((from - mu) / sigma, (high - mu) / sigma) + interval((-high - mu) / sigma, (-from - mu) / sigma)
          );
        },
        logDensity: (x) =>
          normalLogDensity((x - mu) / sigma) + Math.log1p(Math.exp((-2 * x * mu) / (sigma * sigma))) - Math.log(sigma),
      };
    }
    case "lognormal": {
      const { logMean, logSd } = model;
      const score = (x: number) => (x > 0 ? (Math.log(x) - logMean) / logSd : -Infinity);
      return {
        mass: (low, high) => interval(score(low), score(high)),
        logDensity: (x) => normalLogDensity(score(x)) - Math.log(logSd * x),
      };
    }
    case "weibull":
      return weibullLaw(model.shape, model.scale);
    case "rayleigh":
      return weibullLaw(2, model.sigma * Math.SQRT2);
    case "rice":
      return {
        mass: (low, high) => overNodes(nodesOf(low, high, model.sigma), model),
        logDensity: (x) => Math.log(riceDensity(x, model)),
      };
    case "johnson":
      return {
        mass: (low, high) => interval(johnsonScore(low, model), johnsonScore(high, model)),
        logDensity: (x) => normalLogDensity(johnsonScore(x, model)) + Math.log(johnsonSlope(x, model)),
      };
    default:
      throw new CoreError("invalid-argument", `fitRounded: no likelihood for the family ${model.family}`);
  }
}

function weibullLaw(shape: number, scale: number): Law {
  const power = (x: number) => (x > 0 ? (x / scale) ** shape : 0);
  return {
    mass: (low, high) => {
      const from = power(low);
      return Math.exp(-from) * -Math.expm1(from - power(high));
    },
    logDensity: (x) => Math.log(shape / scale) + (shape - 1) * Math.log(x / scale) - power(x),
  };
}

function interval(from: number, to: number): number {
  return from === -Infinity ? normalCdf(to) : normalInterval(from, to);
}

/** Places and weights of an integral over one interval; they do not depend on the parameters. */
interface Nodes {
  readonly at: readonly number[];
  readonly weights: readonly number[];
}

function riceNodes(sample: RoundedSample): readonly Nodes[] {
  const { sd } = shownMoments(sample);
  return Array.from(sample.low, (from, i) => nodesOf(from, sample.high[i]!, sd));
}

function nodesOf(low: number, high: number, sd: number): Nodes {
  const from = Math.max(0, low);
  const count = NODE_COUNTS.find(([width]) => high - from <= width * sd)?.[1] ?? 20;
  const { nodes, weights } = gaussLegendreRule(count);
  const half = (high - from) / 2;
  return {
    at: Array.from(nodes, (node) => from + half * (1 + node)),
    weights: Array.from(weights, (weight) => half * weight),
  };
}

function overNodes({ at, weights }: Nodes, model: DistributionModel): number {
  if (model.family !== "rice") throw new CoreError("invalid-argument", "fitRounded: nodes are those of Rice");
  let sum = 0;
  for (let i = 0; i < at.length; i++) sum += weights[i]! * riceDensity(at[i]!, model);
  return sum;
}
