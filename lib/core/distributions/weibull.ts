import weibullCdfOf from "@stdlib/stats-base-dists-weibull-cdf";
import { CoreError } from "../errors";

/** Shape and scale of a two-parameter Weibull distribution. */
export interface WeibullParameters {
  readonly shape: number;
  readonly scale: number;
}

/**
 * Lower tail P(X <= x) of the Weibull distribution.
 * @param x - value, in units of scale
 * @param parameters - shape > 0, scale > 0
 * @returns probability
 * @throws CoreError out-of-range for another argument
 * Accuracy: 12 digits on tests/reference/distributions.json (the distribution package)
 */
export function weibullCdf(x: number, parameters: WeibullParameters): number {
  requireParameters("weibullCdf", parameters);
  return x <= 0 ? 0 : weibullCdfOf(x, parameters.shape, parameters.scale);
}

/**
 * Upper tail P(X > x) of the Weibull distribution, evaluated directly.
 * Formula: exp(-(x / scale)^shape)
 * @param x - value
 * @param parameters - shape > 0, scale > 0
 * @returns probability
 * @throws CoreError out-of-range for another argument
 */
export function weibullSf(x: number, parameters: WeibullParameters): number {
  requireParameters("weibullSf", parameters);
  return x <= 0 ? 1 : Math.exp(-Math.pow(x / parameters.scale, parameters.shape));
}

/**
 * Quantile of the Weibull distribution: x with P(X <= x) = p.
 * Formula: scale * (-ln(1 - p))^(1 / shape)
 * @param p - probability in (0, 1)
 * @param parameters - shape > 0, scale > 0
 * @returns x > 0
 * @throws CoreError out-of-range for another argument
 */
export function weibullQuantile(p: number, parameters: WeibullParameters): number {
  requireParameters("weibullQuantile", parameters);
  if (!(p > 0 && p < 1)) throw new CoreError("out-of-range", `weibullQuantile: p must be in (0, 1); got ${p}`, { p });
  return parameters.scale * Math.pow(-Math.log1p(-p), 1 / parameters.shape);
}

/**
 * Upper quantile of the Weibull distribution: x with P(X > x) = q.
 * @param q - upper tail probability in (0, 1)
 * @param parameters - shape > 0, scale > 0
 * @returns x > 0
 * @throws CoreError out-of-range for another argument
 */
export function weibullUpperQuantile(q: number, parameters: WeibullParameters): number {
  requireParameters("weibullUpperQuantile", parameters);
  if (!(q > 0 && q < 1)) {
    throw new CoreError("out-of-range", `weibullUpperQuantile: q must be in (0, 1); got ${q}`, { q });
  }
  return parameters.scale * Math.pow(-Math.log(q), 1 / parameters.shape);
}

function requireParameters(name: string, { shape, scale }: WeibullParameters): void {
  if (!(shape > 0 && scale > 0)) {
    throw new CoreError("out-of-range", `${name}: shape and scale must be > 0; got ${shape}, ${scale}`, {
      shape,
      scale,
    });
  }
}
