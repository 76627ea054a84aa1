import { CoreError } from "../errors";
import { chiSquareQuantile, chiSquareUpperQuantile } from "../distributions/chi-square";
import { noncentralityFromT } from "../distributions/noncentral-t";
import { normalQuantile } from "../distributions/normal";

/** Two-sided confidence interval and how it was made. */
export interface CapabilityInterval {
  readonly lower: number;
  readonly upper: number;
  readonly confidence: number;
  readonly method: "chi-square" | "bissell" | "noncentral-t" | "boyles" | "bootstrap" | "pivotal";
}

/** What an estimate rests on: number of values behind the mean, degrees of freedom behind sigma. */
export interface IndexBasis {
  readonly n: number;
  readonly degreesOfFreedom: number;
  readonly confidence: number;
}

/**
 * Exact interval of Cp or Pp for a normal, stable process.
 * Formula: Cp sqrt(chi2(alpha/2, nu)/nu) .. Cp sqrt(chi2(1 - alpha/2, nu)/nu)
 * @param cp - estimate, >= 0
 * @param basis - degrees of freedom nu > 0, confidence in (0, 1)
 * @returns interval
 * @throws CoreError out-of-range
 * Source: Chou, Owen & Borrego 1990, J. Quality Technology 22(3), 223-229; e-Handbook 6.1.6
 */
export function cpInterval(cp: number, basis: IndexBasis): CapabilityInterval {
  const tail = requireBasis("cpInterval", cp, basis);
  const nu = basis.degreesOfFreedom;
  return {
    lower: cp * Math.sqrt(chiSquareQuantile(tail, nu) / nu),
    upper: cp * Math.sqrt(chiSquareUpperQuantile(tail, nu) / nu),
    confidence: basis.confidence,
    method: "chi-square",
  };
}

/**
 * Bissell's approximate interval of Cpk or Ppk (normal, stable process).
 * Formula: Cpk -/+ z sqrt(1/(9 n) + Cpk^2 / (2 nu))
 * @param cpk - estimate
 * @param basis - n values, nu degrees of freedom of sigma (n - 1 overall), confidence
 * @returns interval
 * @throws CoreError out-of-range
 * Source: Bissell 1990, Applied Statistics 39(3), 331-340
 */
export function cpkInterval(cpk: number, basis: IndexBasis): CapabilityInterval {
  const tail = requireBasis("cpkInterval", cpk, basis);
  const reach = -normalQuantile(tail) * bissellError(cpk, basis);
  return { lower: cpk - reach, upper: cpk + reach, confidence: basis.confidence, method: "bissell" };
}

/**
 * Bissell's one-sided lower confidence bound of Cpk or Ppk.
 * @param cpk - estimate
 * @param basis - n, degrees of freedom, one-sided confidence
 * @returns bound
 * @throws CoreError out-of-range
 * Source: Bissell 1990, Applied Statistics 39(3), 331-340
 */
export function cpkLowerBound(cpk: number, basis: IndexBasis): number {
  requireBasis("cpkLowerBound", cpk, basis);
  return cpk - normalQuantile(basis.confidence) * bissellError(cpk, basis);
}

/**
 * Exact interval of a one-sided index Cpu, Cpl, Ppu or Ppl (normal, stable process).
 * Formula: 3 sqrt(n) Cpu is noncentral t with nu degrees of freedom and noncentrality 3 sqrt(n) (true Cpu).
 * @param cpu - estimate
 * @param basis - n, degrees of freedom, confidence
 * @returns interval
 * @throws CoreError out-of-range
 * Source: Chou, Owen & Borrego 1990, J. Quality Technology 22(3), 223-229
 */
export function oneSidedIndexInterval(cpu: number, basis: IndexBasis): CapabilityInterval {
  const tail = requireBasis("oneSidedIndexInterval", cpu, basis);
  const scale = 3 * Math.sqrt(basis.n);
  return {
    lower: noncentralityFromT(scale * cpu, basis.degreesOfFreedom, 1 - tail) / scale,
    upper: noncentralityFromT(scale * cpu, basis.degreesOfFreedom, tail) / scale,
    confidence: basis.confidence,
    method: "noncentral-t",
  };
}

/** The interval of so many is 0.01 % wide; more change nothing that anybody reads. */
const MOST_DEGREES = 1e8;

/**
 * Approximate interval of Cpm.
 * Formula: Cpm sqrt(chi2(alpha/2, nu)/nu) .. , nu = n (1 + xi^2)^2 / (1 + 2 xi^2), xi = (mean - target)/s
 * @param cpm - estimate, > 0
 * @param basis - n, confidence; the degrees of freedom follow from n and xi
 * @param xi - distance of the mean from the target in standard deviations
 * @returns interval
 * @throws CoreError out-of-range
 * Source: Boyles 1991, J. Quality Technology 23(1), 17-26
 */
export function cpmInterval(cpm: number, basis: IndexBasis, xi: number): CapabilityInterval {
  const square = xi * xi;
  const share = square < Infinity ? ((1 + square) / (1 + 2 * square)) * (1 + square) : Infinity;
  const degreesOfFreedom = Math.min(MOST_DEGREES, basis.n * share);
  return { ...cpInterval(cpm, { ...basis, degreesOfFreedom }), method: "boyles" };
}

function bissellError(cpk: number, { n, degreesOfFreedom }: IndexBasis): number {
  return Math.sqrt(1 / (9 * n) + (cpk * cpk) / (2 * degreesOfFreedom));
}

/** Probability in each tail. */
function requireBasis(name: string, index: number, { n, degreesOfFreedom, confidence }: IndexBasis): number {
  if (!Number.isFinite(index)) throw new CoreError("not-finite", `${name}: index must be finite; got ${index}`);
  if (!(n >= 2 && degreesOfFreedom > 0)) {
    throw new CoreError(
      "out-of-range",
      `${name}: n must be >= 2 and degreesOfFreedom > 0; got ${n}, ${degreesOfFreedom}`,
    );
  }
  if (!(confidence > 0 && confidence < 1)) {
    throw new CoreError("out-of-range", `${name}: confidence must be in (0, 1); got ${confidence}`, { confidence });
  }
  return (1 - confidence) / 2;
}
