import { CoreError } from "../errors";
import { stirlingError } from "./log-gamma";

/** Both tails of a beta distribution. */
export interface BetaTails {
  readonly lower: number;
  readonly upper: number;
}

/** Terms of the continued fraction grow like the root of the shapes: enough for shapes of 1e12. */
const MOST_TERMS = 20_000_000;
const TINY = 1e-300;

/**
 * Regularised incomplete beta functions I_x(a, b) and its complement, each evaluated directly where it is the smaller one.
 * @param x - in [0, 1]
 * @param y - 1 - x, given apart so that neither loses digits near its end
 * @param a - first shape, > 0
 * @param b - second shape, > 0
 * @returns both tails
 * @throws CoreError out-of-range for other arguments, not-converged beyond 20,000,000 terms
 * Method: continued fraction on the side of the mean where it converges fast; the leading factor from the saddle-point form,
 * so that it keeps its digits at shapes where logarithms of gamma functions cancel.
 * Accuracy: 12 digits on tests/reference/extreme-arguments.json, to shapes of 1e10
 * Source: DiDonato & Morris 1992, ACM Trans. Math. Softw. 18(3), 360-373 (the fraction); Loader 2000 (the factor)
 */
export function regularisedBeta(x: number, y: number, a: number, b: number): BetaTails {
  if (!(a > 0 && b > 0 && a < Infinity && b < Infinity)) {
    throw new CoreError("out-of-range", `regularisedBeta: shapes must be finite and > 0; got ${a}, ${b}`, { a, b });
  }
  if (!(x >= 0 && y >= 0 && Math.abs(x + y - 1) < 1e-9)) {
    throw new CoreError("out-of-range", `regularisedBeta: x and y must be in [0, 1] and add up to 1; got ${x}, ${y}`);
  }
  if (x === 0) return { lower: 0, upper: 1 };
  if (y === 0) return { lower: 1, upper: 0 };
  // a - (a + b) x, how far x lies below the mean, without cancellation
  const excess = differenceOfProducts(a, y, b, x);
  const kernel = betaKernel(excess, x, y, a, b);
  if (excess >= 0) {
    const lower = Math.min(1, kernel * fraction(excess, x, y, a, b));
    return { lower, upper: 1 - lower };
  }
  const upper = Math.min(1, kernel * fraction(-excess, y, x, b, a));
  return { lower: 1 - upper, upper };
}

/** x^a y^b / B(a, b). */
function betaKernel(excess: number, x: number, y: number, a: number, b: number): number {
  const n = a + b;
  const deviance = devianceFrom(a, excess, n * x) + devianceFrom(b, -excess, n * y);
  const stirling = stirlingError(n) - stirlingError(a) - stirlingError(b);
  return Math.sqrt((a / n) * (b / (2 * Math.PI))) * Math.exp(stirling - deviance);
}

/** a ln(a / m) + m - a for m = a - difference, which both are given: a series where they are close. */
function devianceFrom(a: number, difference: number, m: number): number {
  if (Math.abs(difference) >= 0.1 * (a + m)) return a * Math.log(a / m) - difference;
  const v = difference / (2 * a - difference);
  let sum = difference * v;
  let term = 2 * a * v;
  for (let j = 1; j < 200; j++) {
    term *= v * v;
    const next = sum + term / (2 * j + 1);
    if (next === sum) break;
    sum = next;
  }
  return sum;
}

const SPLIT = 134217729;
/** From here on the parts of a split product overflow. */
const LARGEST_SPLIT = 1e290;

/** p q - r s with the rounding of both products given back (Dekker 1971, Numerische Mathematik 18, 224-242). */
function differenceOfProducts(p: number, q: number, r: number, s: number): number {
  const [first, second] = [p * q, r * s];
  if (Math.max(p, r) > LARGEST_SPLIT) return first - second;
  return first - second + (productError(p, q, first) - productError(r, s, second));
}

function productError(p: number, q: number, product: number): number {
  const [pBig, qBig] = [p * SPLIT, q * SPLIT];
  const [pHigh, qHigh] = [pBig - (pBig - p), qBig - (qBig - q)];
  const [pLow, qLow] = [p - pHigh, q - qHigh];
  return pLow * qLow - (product - pHigh * qHigh - pLow * qHigh - pHigh * qLow);
}

/** Continued fraction by which x^a y^b / B(a, b) is multiplied, in Lentz's form. */
function fraction(excess: number, x: number, y: number, a: number, b: number): number {
  let f = (a * (excess + 1)) / (a + 1);
  let c = f;
  let d = 0;
  for (let n = 1; n < MOST_TERMS; n++) {
    const odd = a + 2 * n - 1;
    const numerator = ((a + n - 1) / odd) * ((a + b + n - 1) / odd) * n * (b - n) * x * x;
    const denominator = n + (n * (b - n) * x) / odd + ((a + n) / (odd + 2)) * (excess + 1 + n * (1 + y));
    d = denominator + numerator * d;
    if (d === 0) d = TINY;
    c = denominator + numerator / c;
    if (c === 0) c = TINY;
    d = 1 / d;
    const ratio = c * d;
    f *= ratio;
    if (Math.abs(ratio - 1) < 4e-16) return 1 / f;
  }
  throw new CoreError("not-converged", `regularisedBeta: no convergence at x ${x}, shapes ${a}, ${b}`, { x, a, b });
}
