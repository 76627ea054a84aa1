import { CoreError } from "../errors";
import { foldedNormalCdf, foldedNormalQuantile, foldedNormalSf, foldedNormalUpperQuantile } from "./folded-normal";
import { gammaCdf, gammaQuantile, gammaSf, gammaUpperQuantile } from "./gamma";
import { type JohnsonParameters, johnsonCdf, johnsonQuantile, johnsonSf, johnsonUpperQuantile } from "./johnson";
import { lognormalCdf, lognormalQuantile, lognormalSf, lognormalUpperQuantile } from "./lognormal";
import { normalCdf, normalQuantile, normalSf } from "./normal";
import { rayleighCdf, rayleighQuantile, rayleighSf, rayleighUpperQuantile } from "./rayleigh";
import { riceCdf, riceQuantile, riceSf, riceUpperQuantile } from "./rice";
import { weibullCdf, weibullQuantile, weibullSf, weibullUpperQuantile } from "./weibull";

/** A continuous distribution with its parameters; location and scale parameters carry the unit of the values. */
export type DistributionModel =
  | { readonly family: "normal"; readonly mean: number; readonly sd: number }
  | { readonly family: "folded-normal"; readonly mu: number; readonly sigma: number }
  | { readonly family: "lognormal"; readonly logMean: number; readonly logSd: number }
  | { readonly family: "weibull"; readonly shape: number; readonly scale: number }
  | { readonly family: "rayleigh"; readonly sigma: number }
  | { readonly family: "rice"; readonly offset: number; readonly sigma: number }
  | { readonly family: "gamma"; readonly shape: number; readonly scale: number }
  | ({ readonly family: "johnson" } & JohnsonParameters);

export type DistributionFamily = DistributionModel["family"];

/**
 * Lower tail P(X <= x) of a distribution model.
 * @param model - family and parameters
 * @param x - value, unit of the model
 * @returns probability
 * @throws CoreError out-of-range for parameters outside their domain
 */
export function modelCdf(model: DistributionModel, x: number): number {
  switch (model.family) {
    case "normal":
      return normalCdf((x - model.mean) / requireSd(model.sd));
    case "folded-normal":
      return foldedNormalCdf(x, model);
    case "lognormal":
      return lognormalCdf(x, model);
    case "weibull":
      return weibullCdf(x, model);
    case "rayleigh":
      return rayleighCdf(x, model.sigma);
    case "rice":
      return riceCdf(x, model);
    case "gamma":
      return gammaCdf(x, model.shape, model.scale);
    case "johnson":
      return johnsonCdf(x, model);
  }
}

/**
 * Upper tail P(X > x) of a distribution model, evaluated directly.
 * @param model - family and parameters
 * @param x - value, unit of the model
 * @returns probability
 * @throws CoreError out-of-range for parameters outside their domain
 */
export function modelSf(model: DistributionModel, x: number): number {
  switch (model.family) {
    case "normal":
      return normalSf((x - model.mean) / requireSd(model.sd));
    case "folded-normal":
      return foldedNormalSf(x, model);
    case "lognormal":
      return lognormalSf(x, model);
    case "weibull":
      return weibullSf(x, model);
    case "rayleigh":
      return rayleighSf(x, model.sigma);
    case "rice":
      return riceSf(x, model);
    case "gamma":
      return gammaSf(x, model.shape, model.scale);
    case "johnson":
      return johnsonSf(x, model);
  }
}

/**
 * Quantile x with P(X <= x) = p of a distribution model.
 * @param model - family and parameters
 * @param p - probability in (0, 1)
 * @returns x, unit of the model
 * @throws CoreError out-of-range for another argument
 */
export function modelQuantile(model: DistributionModel, p: number): number {
  switch (model.family) {
    case "normal":
      return model.mean + requireSd(model.sd) * normalQuantile(p);
    case "folded-normal":
      return foldedNormalQuantile(p, model);
    case "lognormal":
      return lognormalQuantile(p, model);
    case "weibull":
      return weibullQuantile(p, model);
    case "rayleigh":
      return rayleighQuantile(p, model.sigma);
    case "rice":
      return riceQuantile(p, model);
    case "gamma":
      return gammaQuantile(p, model.shape, model.scale);
    case "johnson":
      return johnsonQuantile(p, model);
  }
}

/**
 * Upper quantile x with P(X > x) = q of a distribution model.
 * @param model - family and parameters
 * @param q - upper tail probability in (0, 1)
 * @returns x, unit of the model
 * @throws CoreError out-of-range for another argument
 */
export function modelUpperQuantile(model: DistributionModel, q: number): number {
  switch (model.family) {
    case "normal":
      return model.mean - requireSd(model.sd) * normalQuantile(q);
    case "folded-normal":
      return foldedNormalUpperQuantile(q, model);
    case "lognormal":
      return lognormalUpperQuantile(q, model);
    case "weibull":
      return weibullUpperQuantile(q, model);
    case "rayleigh":
      return rayleighUpperQuantile(q, model.sigma);
    case "rice":
      return riceUpperQuantile(q, model);
    case "gamma":
      return gammaUpperQuantile(q, model.shape, model.scale);
    case "johnson":
      return johnsonUpperQuantile(q, model);
  }
}

function requireSd(sd: number): number {
  if (!(sd > 0)) throw new CoreError("out-of-range", `distributionModel: sd must be > 0; got ${sd}`, { sd });
  return sd;
}
