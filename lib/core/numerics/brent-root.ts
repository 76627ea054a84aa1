import { CoreError } from "../errors";

/**
 * Root of a continuous function in a bracketing interval.
 * @param f - function with f(low) and f(high) of opposite sign (or one of them 0)
 * @param low - lower end of the bracket
 * @param high - upper end of the bracket
 * @param relativeTolerance - width of the last bracket relative to the root, default 1e-15; absolute below the smallest
 *   normal number only
 * @returns the root
 * @throws CoreError invalid-argument if the ends do not bracket a root, not-converged after 300 steps
 * Method: Brent's combination of inverse quadratic interpolation, secant and bisection.
 * Source: Brent 1973, Algorithms for Minimization without Derivatives, chapter 4
 */
export function brentRoot(f: (x: number) => number, low: number, high: number, relativeTolerance = 1e-15): number {
  let a = low;
  let b = high;
  let fa = f(a);
  let fb = f(b);
  if (fa === 0) return a;
  if (fb === 0) return b;
  if (!(fa * fb < 0) && !(Math.sign(fa) * Math.sign(fb) < 0)) {
    throw new CoreError("invalid-argument", `brentRoot: low and high must bracket a root; got f ${fa} and ${fb}`, {
      low,
      high,
    });
  }
  let c = a;
  let fc = fa;
  let d = b - a;
  let e = d;
  for (let iteration = 0; iteration < 300; iteration++) {
    if (Math.sign(fb) === Math.sign(fc)) {
      c = a;
      fc = fa;
      d = b - a;
      e = d;
    }
    if (Math.abs(fc) < Math.abs(fb)) {
      a = b;
      b = c;
      c = a;
      fa = fb;
      fb = fc;
      fc = fa;
    }
    const tolerance = Math.max(2 * Number.EPSILON, relativeTolerance) * Math.abs(b) * 0.5 + Number.MIN_VALUE;
    const middle = 0.5 * (c - b);
    if (Math.abs(middle) <= tolerance || fb === 0) return b;
    if (Math.abs(e) >= tolerance && Math.abs(fa) > Math.abs(fb)) {
      const s = fb / fa;
      let p: number;
      let q: number;
      if (a === c) {
        p = 2 * middle * s;
        q = 1 - s;
      } else {
        const r0 = fa / fc;
        const r = fb / fc;
        p = s * (2 * middle * r0 * (r0 - r) - (b - a) * (r - 1));
        q = (r0 - 1) * (r - 1) * (s - 1);
      }
      if (p > 0) q = -q;
      p = Math.abs(p);
      if (2 * p < Math.min(3 * middle * q - Math.abs(tolerance * q), Math.abs(e * q))) {
        e = d;
        d = p / q;
      } else {
        d = middle;
        e = d;
      }
    } else {
      d = middle;
      e = d;
    }
    a = b;
    fa = fb;
    b += Math.abs(d) > tolerance ? d : middle > 0 ? tolerance : -tolerance;
    fb = f(b);
  }
  throw new CoreError("not-converged", `brentRoot: no convergence in 300 steps between ${low} and ${high}`, {
    low,
    high,
  });
}
