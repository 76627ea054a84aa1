import { CoreError } from "../errors";

/** Share of sweeps in order that the residual test may call irregular: 0.001 %, so that a good file of 300 frames ships. */
export const IRREGULAR_LEVEL = 1e-5;

/** Terms after which the continued fraction of erfc(z) is exact to double precision, for z >= 2. */
const FRACTION_TERMS = 200;

/** Complementary error function for z >= 2 by its continued fraction (Abramowitz & Stegun 7.1.14). */
function erfcTail(z: number): number {
  let tail = z;
  for (let n = FRACTION_TERMS; n >= 1; n -= 1) tail = z + n / 2 / tail;
  return Math.exp(-z * z) / (Math.sqrt(Math.PI) * tail);
}

/** P(chi-square > x) for integer degrees of freedom, x >= 8. Source: Abramowitz & Stegun 26.4.4, 26.4.5. */
function chiSquareUpperTail(x: number, degreesOfFreedom: number): number {
  const odd = degreesOfFreedom % 2 === 1;
  let term = odd ? Math.sqrt((2 * x) / Math.PI) * Math.exp(-x / 2) : Math.exp(-x / 2);
  let sum = odd ? erfcTail(Math.sqrt(x / 2)) : term;
  if (odd && degreesOfFreedom > 1) sum += term;
  for (let m = odd ? 3 : 2; m <= degreesOfFreedom - 2; m += 2) {
    term *= x / m;
    sum += term;
  }
  return sum;
}

/** Limits worked out already: one per number of readings that a sweep has. */
const limits = new Map<number, number>();

/**
 * Limit of a residual sum of squares in units of the noise's variance: the upper 0.001 % quantile of chi-square.
 *
 * @param degreesOfFreedom - whole number, >= 1
 * @returns the limit, no unit
 * @throws CoreError out-of-range
 * Method: bisection; the tail falls with x. It is here in closed form, since the station's first load has no room for a
 * distribution package.
 * Accuracy: 10 digits (tests/core/metrology/sweep-regularity.test.ts, scipy).
 */
export function residualLimit(degreesOfFreedom: number): number {
  if (!Number.isInteger(degreesOfFreedom) || degreesOfFreedom < 1)
    throw new CoreError(
      "out-of-range",
      `residualLimit: degreesOfFreedom must be a whole number from 1; got ${degreesOfFreedom}`,
      { degreesOfFreedom },
    );
  const known = limits.get(degreesOfFreedom);
  if (known !== undefined) return known;
  let low = 8;
  let high = 100 + 20 * degreesOfFreedom;
  for (let i = 0; i < 80; i += 1) {
    const middle = (low + high) / 2;
    if (chiSquareUpperTail(middle, degreesOfFreedom) > IRREGULAR_LEVEL) low = middle;
    else high = middle;
  }
  limits.set(degreesOfFreedom, (low + high) / 2);
  return (low + high) / 2;
}

/** Standard deviations of the difference of two readings that chance exceeds in 0.001 %, either way: the root for one degree. */
export const REPEAT_FACTOR = Math.sqrt(residualLimit(1));
