import { CoreError } from "../errors";
import { brentRoot } from "../numerics/brent-root";
import { integratePanels } from "../numerics/gauss-legendre";
import { betaQuantile } from "./beta";
import { gammaQuantile, gammaUpperQuantile } from "./gamma";
import { normalQuantile } from "./normal";

/** Shape of a Pearson curve by its moments. */
export interface PearsonShape {
  readonly skewness: number;
  /** Fourth standardised moment minus 3; > skewness^2 - 2. */
  readonly excessKurtosis: number;
}

/** Coefficients below this are taken as 0 far from the normal curve: they change the quantile by less than 1e-9. */
const NEGLIGIBLE = 1e-11;

/** Beyond so many standard deviations past the quantile a curve near the normal one has no mass that counts. */
const REACH_BEYOND = 9;
/** Largest change of the quadratic within reach for which the logarithm of the density is integrated. */
const NEARLY_NORMAL = 0.5;

/**
 * Quantile of the standardised Pearson curve (mean 0, sd 1) with given skewness and kurtosis.
 * Formula: f'/f = -(x + c1) / (c0 + c1 x + c2 x^2), with c0, c1, c2 from the moments.
 * @param p - probability in (0, 1)
 * @param shape - skewness and excess kurtosis
 * @returns standardised quantile
 * @throws CoreError out-of-range if p is not in (0, 1) or no distribution has these moments
 * Method: by type: beta (I, II), gamma (III), inverse gamma (V), beta prime (VI), quadrature (IV, VII), normal; near the
 * normal curve, where the parameters of every type grow without bound and cancel, quadrature of f'/f itself.
 * Accuracy: 1e-7 on tests/reference/capability.json; 10 digits near the normal curve on extreme-arguments.json
 * Source: Pearson 1895, 1901; Elderton & Johnson 1969, Systems of Frequency Curves, chapter 4
 */
export function pearsonQuantile(p: number, shape: PearsonShape): number {
  if (!(p > 0 && p < 1)) throw new CoreError("out-of-range", `pearsonQuantile: p must be in (0, 1); got ${p}`, { p });
  return shape.skewness < 0
    ? -quantileOf({ below: 1 - p, above: p }, { ...shape, skewness: -shape.skewness })
    : quantileOf({ below: p, above: 1 - p }, shape);
}

/** Both tails of a quantile, so that neither loses digits. */
type Tails = { readonly below: number; readonly above: number };

function quantileOf(tails: Tails, { skewness, excessKurtosis }: PearsonShape): number {
  const kurtosis = excessKurtosis + 3;
  const squared = skewness * skewness;
  if (!(kurtosis > squared + 1) || !Number.isFinite(kurtosis)) {
    throw new CoreError(
      "out-of-range",
      `pearsonQuantile: excessKurtosis must be > skewness^2 - 2; got ${excessKurtosis}`,
      {
        skewness,
        excessKurtosis,
      },
    );
  }
  const scale = 10 * kurtosis - 12 * squared - 18;
  if (Math.abs(scale) < NEGLIGIBLE) {
    throw new CoreError("degenerate", "pearsonQuantile: this shape has no finite coefficients", {
      skewness,
      excessKurtosis,
    });
  }
  const c0 = (4 * kurtosis - 3 * squared) / scale;
  const c1 = (skewness * (kurtosis + 3)) / scale;
  const c2 = (2 * kurtosis - 3 * squared - 6) / scale;
  const normal = tails.below <= 0.5 ? normalQuantile(tails.below) : 0 - normalQuantile(tails.above);
  const reach = 1.3 * Math.abs(normal) + REACH_BEYOND;
  if (Math.abs(c1) * reach + Math.abs(c2) * reach ** 2 <= NEARLY_NORMAL * c0) {
    return nearlyNormal(tails, normal, reach, [c0, c1, c2]);
  }
  const { below: p } = tails;
  if (Math.abs(c2) < NEGLIGIBLE) return typeThree(tails, c0, c1);
  const discriminant = c1 * c1 - 4 * c0 * c2;
  if (Math.abs(discriminant) < NEGLIGIBLE) return typeFive(p, c1, c2);
  return discriminant > 0 ? realRoots(p, c0, c1, c2) : typeFour(p, c0, c1, c2);
}

/** By quadrature of ln f = -integral of (s + c1) / (c0 + c1 s + c2 s^2), and of f, about 0. */
function nearlyNormal(
  { below, above }: Tails,
  guess: number,
  reach: number,
  [c0, c1, c2]: readonly [number, number, number],
): number {
  const slope = (s: number): number => -(s + c1) / (c0 + s * (c1 + c2 * s));
  const density = (x: number): number =>
    Math.exp(x < 0 ? -integratePanels(slope, [x, 0], 2, 12) : integratePanels(slope, [0, x], 2, 12));
  const over = (from: number, to: number): number =>
    integratePanels(density, [from, to], Math.max(1, Math.ceil((to - from) / 2)));
  const total = over(-reach, 0) + over(0, reach);
  const excess = (x: number): number =>
    below <= 0.5 ? Math.log(over(-reach, x) / total / below) : -Math.log(over(x, reach) / total / above);
  return brentRoot(excess, guess - 1 - 0.3 * Math.abs(guess), guess + 1 + 0.3 * Math.abs(guess), 1e-14);
}

/** f ~ (x + c0/c1)^(c0/c1^2 - 1) exp(-x/c1): a shifted gamma. */
function typeThree({ below, above }: Tails, c0: number, c1: number): number {
  const shape = c0 / (c1 * c1);
  return c1 * (below <= 0.5 ? gammaQuantile(below, shape) : gammaUpperQuantile(above, shape)) - c0 / c1;
}

/** Double root r: f ~ |x - r|^(-1/c2) exp(-k / (x - r)), k = -(r + c1)/c2: 1/(x - r) is gamma. */
function typeFive(p: number, c1: number, c2: number): number {
  const root = -c1 / (2 * c2);
  const rate = -(root + c1) / c2;
  const shape = 1 / c2 - 1;
  return rate < 0 ? root + -rate / gammaUpperQuantile(p, shape) : root - rate / gammaQuantile(p, shape);
}

/** Real roots a < b: f ~ |x - a|^m |x - b|^k with exponents from partial fractions: beta inside, beta prime outside. */
function realRoots(p: number, c0: number, c1: number, c2: number): number {
  const q = -0.5 * (c1 + Math.sqrt(c1 * c1 - 4 * c0 * c2) * (c1 < 0 ? -1 : 1));
  const roots = [q / c2, c0 / q].sort((x, y) => x - y);
  const a = roots[0]!;
  const b = roots[1]!;
  const atA = -(a + c1) / (c2 * (a - b));
  const atB = -(b + c1) / (c2 * (b - a));
  if (a < 0 && b > 0) return a + (b - a) * betaQuantile(p, atA + 1, atB + 1);
  // Support (b, infinity), both roots negative: u = (b - a)/(x - a) is beta with shapes (-atA - atB - 1, atB + 1).
  return a + (b - a) / (1 - betaQuantile(p, atB + 1, -atA - atB - 1));
}

/** Complex roots: x = centre + width tan(theta), f dx ~ cos^(1/c2 - 2) exp(-skew theta) d theta on (-pi/2, pi/2). */
function typeFour(p: number, c0: number, c1: number, c2: number): number {
  const centre = -c1 / (2 * c2);
  const width = Math.sqrt(c0 / c2 - centre * centre);
  const power = 1 / c2 - 2;
  const skew = (centre + c1) / (c2 * width);
  const mode = Math.atan(-skew / power);
  const logPeak = power * Math.log(Math.cos(mode)) - skew * mode;
  const density = (theta: number): number => Math.exp(power * Math.log(Math.cos(theta)) - skew * theta - logPeak);
  const half = Math.PI / 2;
  const below = (theta: number): number => integratePanels(density, [-half, theta], 40);
  const above = (theta: number): number => integratePanels(density, [theta, half], 40);
  const total = below(mode) + above(mode);
  const excess = (theta: number): number =>
    p <= 0.5 ? below(theta) / total / p - 1 : 1 - above(theta) / total / (1 - p);
  return centre + width * Math.tan(brentRoot(excess, -half * (1 - 1e-9), half * (1 - 1e-9)));
}
