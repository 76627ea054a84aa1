import { studentTCdf } from "../../distributions/student-t";
import { brentRoot } from "../../numerics/brent-root";

/** One possible autocorrelation with the line it gives and its weight. */
type Candidate = Readonly<{
  weight: number;
  rho: number;
  /** Line about the mean position: value there and slope. */
  level: number;
  slope: number;
  sigma: number;
  /** (X' R^-1 X)^-1: variance of level, covariance, variance of slope, for unit sigma. */
  covariance: readonly [number, number, number];
  lastResidual: number;
}>;

/** A straight line with autocorrelated residuals, the unknown autocorrelation averaged over. */
export type AutocorrelatedLine = Readonly<{
  candidates: readonly Candidate[];
  /** Positions are measured from here. */
  origin: number;
  lastPosition: number;
  degreesOfFreedom: number;
}>;

/** Neighbouring residuals correlate by one of these; beyond the last a trend cannot be told from wandering. */
const CANDIDATES = Array.from({ length: 20 }, (_, index) => 0.05 * index);

/**
 * Straight line through values whose residuals follow a first-order autoregression in the position.
 * Formula: y_i = a + b x_i + e_i, corr(e_i, e_j) = rho^|x_i - x_j|; weight of rho:
 * |R|^(-1/2) |X' R^-1 X|^(-1/2) RSS^(-(n - 2) / 2), the restricted likelihood.
 *
 * @param positions - number[n], n >= 4, increasing
 * @param values - number[n], not on one line exactly
 * Method: generalised least squares for rho = 0, 0.05 ... 0.95 by whitening neighbours; the candidates are averaged by
 *   restricted likelihood, so that intervals include not knowing rho. Negative autocorrelation is taken as none, which
 *   makes intervals wider, never narrower.
 * Source: Judge, Griffiths, Hill, Lutkepohl and Lee 1985, The Theory and Practice of Econometrics, 8.2; Harville 1974,
 *   Biometrika 61(2) 383-385
 */
export function autocorrelatedLine(positions: readonly number[], values: readonly number[]): AutocorrelatedLine {
  const n = values.length;
  const mean = (list: readonly number[]) => {
    const first = list[0]!;
    return first + list.reduce((sum, each) => sum + (each - first), 0) / list.length;
  };
  const origin = mean(positions);
  const base = mean(values);
  const x = positions.map((position) => position - origin);
  const y = values.map((value) => value - base);
  const fits = CANDIDATES.map((rho) => fitAt(rho, x, y));
  const best = Math.max(...fits.map(({ logWeight }) => logWeight));
  const raw = fits.map(({ logWeight }) => Math.exp(logWeight - best));
  const total = raw.reduce((sum, each) => sum + each, 0);
  return {
    candidates: fits.map((fit, index) => ({ ...fit, level: fit.level + base, weight: raw[index]! / total })),
    origin,
    lastPosition: positions[n - 1]!,
    degreesOfFreedom: n - 2,
  };
}

function fitAt(rho: number, x: readonly number[], y: readonly number[]) {
  let [s1, sx, sxx, sy, sxy] = [0, 0, 0, 0, 0];
  let logDeterminant = 0;
  const whitened: [one: number, x: number, y: number][] = [];
  for (let i = 0; i < x.length; i++) {
    const phi = i === 0 ? 0 : rho ** (x[i]! - x[i - 1]!);
    const scale = 1 / Math.sqrt(1 - phi * phi);
    logDeterminant -= 2 * Math.log(scale);
    const before = (list: readonly number[]) => (i === 0 ? 0 : phi * list[i - 1]!);
    const row: [number, number, number] = [(1 - phi) * scale, (x[i]! - before(x)) * scale, (y[i]! - before(y)) * scale];
    whitened.push(row);
    s1 += row[0] * row[0];
    sx += row[0] * row[1];
    sxx += row[1] * row[1];
    sy += row[0] * row[2];
    sxy += row[1] * row[2];
  }
  const determinant = s1 * sxx - sx * sx;
  const level = (sxx * sy - sx * sxy) / determinant;
  const slope = (s1 * sxy - sx * sy) / determinant;
  const rss = whitened.reduce((sum, [one, wx, wy]) => sum + (wy - level * one - slope * wx) ** 2, 0);
  const df = x.length - 2;
  return {
    rho,
    level,
    slope,
    sigma: Math.sqrt(rss / df),
    covariance: [sxx / determinant, -sx / determinant, s1 / determinant] as const,
    lastResidual: y[y.length - 1]! - level - slope * x[x.length - 1]!,
    logWeight: -0.5 * (logDeterminant + Math.log(determinant) + df * Math.log(rss)),
  };
}

/** Candidates with less weight than this move no probability that anybody reads. */
const LEAST_WEIGHT = 1e-6;

/** A quantity that is a shifted and scaled t variate for each candidate. */
type Spread = Readonly<{ weight: number; centre: number; scale: number }>;

/** The slope per unit of position. */
export function slopeSpread({ candidates }: AutocorrelatedLine): Spread[] {
  return candidates.map(({ weight, slope, sigma, covariance }) => ({
    weight,
    centre: slope,
    scale: sigma * Math.sqrt(covariance[2]),
  }));
}

/** The line at a position. */
export function lineSpread({ candidates, origin }: AutocorrelatedLine, position: number): Spread[] {
  return candidates.map((candidate) => ({
    weight: candidate.weight,
    centre: candidate.level + candidate.slope * (position - origin),
    scale: candidate.sigma * Math.sqrt(quadratic(candidate.covariance, 1, position - origin)),
  }));
}

/** One new value at a position after the last: the line, what is left of the last residual, and the new noise. */
export function frameSpread(line: AutocorrelatedLine, position: number): Spread[] {
  const ahead = position - line.lastPosition;
  return line.candidates.map((candidate) => {
    const { weight, level, slope, sigma, covariance, rho, lastResidual } = candidate;
    const kept = rho ** ahead;
    const x = position - line.origin;
    const xLast = line.lastPosition - line.origin;
    const variance = 1 - kept * kept + quadratic(covariance, 1 - kept, x - kept * xLast);
    return { weight, centre: level + slope * x + kept * lastResidual, scale: sigma * Math.sqrt(variance) };
  });
}

function quadratic([aa, ab, bb]: readonly [number, number, number], a: number, b: number): number {
  return aa * a * a + 2 * ab * a * b + bb * b * b;
}

/** Probability that the quantity is at most `value`. */
export function spreadCdf(spreads: readonly Spread[], value: number, degreesOfFreedom: number): number {
  let sum = 0;
  for (const { weight, centre, scale } of spreads) {
    if (weight > LEAST_WEIGHT) sum += weight * studentTCdf((value - centre) / scale, degreesOfFreedom);
  }
  return sum;
}

/** The value below which the quantity lies with a probability, to 1e-10 of its spread. */
export function spreadQuantile(spreads: readonly Spread[], probability: number, degreesOfFreedom: number): number {
  const used = spreads.filter(({ weight }) => weight > LEAST_WEIGHT);
  const unit = Math.max(...used.map(({ scale }) => scale));
  const origin = spreadCentre(used) / used.reduce((sum, { weight }) => sum + weight, 0);
  const excess = (steps: number) => spreadCdf(used, origin + steps * unit, degreesOfFreedom) - probability;
  let low = -4;
  let high = 4;
  while (excess(low) > 0) low *= 2;
  while (excess(high) < 0) high *= 2;
  return origin + unit * brentRoot(excess, low, high, 1e-10);
}

/** Mean of the centres. */
export function spreadCentre(spreads: readonly Spread[]): number {
  return spreads.reduce((sum, { weight, centre }) => sum + weight * centre, 0);
}
