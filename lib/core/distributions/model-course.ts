import { CoreError } from "../errors";
import { logGamma } from "../numerics/log-gamma";
import { panelGrid } from "../numerics/panel-grid";
import type { DistributionModel } from "./distribution-model";
import { johnsonScore, johnsonValue } from "./johnson";
import { normalDensity } from "./normal";
import { riceDensity } from "./rice";

/**
 * A distribution laid out along a parameter t in which its density is smooth and of moderate width: normal scores, the
 * exponent of a steep Weibull density, or the value itself.
 */
type Course = Readonly<{
  low: number;
  high: number;
  /** Whether the density of t may begin steeply at `low`. */
  steep: boolean;
  valueAt: (t: number) => number;
  densityAt: (t: number) => number;
  placeOf: (x: number) => number;
}>;

/** Standard deviations that hold all but 1e-15 of a normal distribution; an exponential needs more. */
const NORMAL_REACH = 8;
const EXPONENTIAL_REACH = 36;
const RAYLEIGH_REACH = 8.5;

/**
 * Values of a distribution with their masses: the integral of g(x) f(x) over x <= top is the sum of masses times g(values).
 *
 * @param model - family and parameters
 * @param top - upper end, unit of the values; Infinity for all of it
 * @param panels - of 16 nodes each, integer >= 1
 * @returns values ascending and masses; empty where nothing lies below `top`
 * @throws CoreError out-of-range for parameters outside their domain
 */
export function modelMasses(
  model: DistributionModel,
  top: number,
  panels: number,
): { readonly values: Float64Array; readonly masses: Float64Array } {
  const { low, high, steep, valueAt, densityAt, placeOf } = courseOf(model);
  const end = top === Infinity ? high : Math.min(high, placeOf(top));
  if (!(end > low)) return { values: new Float64Array(0), masses: new Float64Array(0) };
  const { at, weights } = panelGrid([0, 1], 1 / panels);
  const reach = end - low;
  // Where a density may be steep, t grows like the cube of the place: panels are narrow at the lower end.
  const places = at.map((u) => low + reach * (steep ? u ** 3 : u));
  const masses = places.map((t, i) => weights[i]! * reach * (steep ? 3 * at[i]! ** 2 : 1) * densityAt(t));
  return { values: places.map(valueAt), masses };
}

function courseOf(model: DistributionModel): Course {
  switch (model.family) {
    case "normal": {
      const { mean } = model;
      const sd = positive(model.sd);
      return scores(
        (z) => mean + sd * z,
        (x) => (x - mean) / sd,
      );
    }
    case "lognormal": {
      const { logMean } = model;
      const logSd = positive(model.logSd);
      return scores(
        (z) => Math.exp(logMean + logSd * z),
        (x) => (x > 0 ? (Math.log(x) - logMean) / logSd : -Infinity),
      );
    }
    case "johnson":
      return scores(
        (z) => johnsonValue(z, model),
        (x) => johnsonScore(x, model),
      );
    case "weibull":
      return weibull(positive(model.shape), positive(model.scale));
    case "rayleigh": {
      const sigma = positive(model.sigma);
      return values(0, RAYLEIGH_REACH * sigma, (x) => (x / sigma ** 2) * Math.exp(-0.5 * (x / sigma) ** 2));
    }
    case "folded-normal": {
      const { mu } = model;
      const sigma = positive(model.sigma);
      const density = (x: number) => (normalDensity((x - mu) / sigma) + normalDensity((x + mu) / sigma)) / sigma;
      return values(Math.max(0, Math.abs(mu) - NORMAL_REACH * sigma), Math.abs(mu) + NORMAL_REACH * sigma, density);
    }
    case "rice": {
      const { offset } = model;
      const sigma = positive(model.sigma);
      const density = (x: number) => riceDensity(x, model);
      return values(Math.max(0, offset - NORMAL_REACH * sigma), offset + RAYLEIGH_REACH * sigma, density);
    }
    case "gamma":
      return gamma(positive(model.shape), positive(model.scale));
  }
}

function scores(valueAt: (z: number) => number, placeOf: (x: number) => number): Course {
  return { low: -NORMAL_REACH, high: NORMAL_REACH, steep: false, valueAt, densityAt: normalDensity, placeOf };
}

function values(low: number, high: number, densityAt: (x: number) => number): Course {
  return { low, high, steep: low === 0, valueAt: (x) => x, densityAt, placeOf: (x) => x };
}

function weibull(shape: number, scale: number): Course {
  if (shape < 1) {
    return {
      low: 0,
      high: EXPONENTIAL_REACH,
      steep: true,
      valueAt: (t) => scale * t ** (1 / shape),
      densityAt: (t) => Math.exp(-t),
      placeOf: (x) => (x > 0 ? (x / scale) ** shape : 0),
    };
  }
  const density = (x: number) => {
    const power = (x / scale) ** (shape - 1);
    return (shape / scale) * power * Math.exp((-power * x) / scale);
  };
  return values(0, scale * EXPONENTIAL_REACH ** (1 / shape), density);
}

function gamma(shape: number, scale: number): Course {
  const spread = Math.sqrt(shape);
  const constant = -logGamma(shape) - Math.log(scale);
  const density = (x: number) => (x > 0 ? Math.exp((shape - 1) * Math.log(x / scale) - x / scale + constant) : 0);
  return values(
    scale * Math.max(0, shape - NORMAL_REACH * spread),
    scale * (shape + EXPONENTIAL_REACH + NORMAL_REACH * spread),
    density,
  );
}

function positive(parameter: number): number {
  if (!(parameter > 0 && parameter < Infinity))
    throw new CoreError("out-of-range", `modelMasses: scale and shape must be finite and > 0; got ${parameter}`);
  return parameter;
}
