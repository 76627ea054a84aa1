import { gaussLegendreRule } from "./gauss-legendre";

/**
 * Integral of a non-negative piecewise smooth function by adaptive bisection of Gauss-Legendre panels.
 * @param f - integrand, finite and >= 0 inside the interval
 * @param breaks - ascending points; the first and last are the limits, the others cut the first panels (at peaks)
 * @param beside - what the integral will be added to, >= 0: digits that vanish beside it are not sought
 * @param relativeTolerance - of each panel against the running total, default 1e-13
 * @returns approximation of the integral
 * Edge cases: panels are halved at most 24 times; a jump inside is resolved to 2^-24 of its panel
 */
export function integrateAdaptive(
  f: (x: number) => number,
  breaks: readonly number[],
  beside = 0,
  relativeTolerance = 1e-13,
): number {
  let rough = beside;
  for (let i = 1; i < breaks.length; i++) rough += panel(f, breaks[i - 1]!, breaks[i]!);
  let total = 0;
  for (let i = 1; i < breaks.length; i++) {
    const a = breaks[i - 1]!;
    const b = breaks[i]!;
    total += refine(f, [a, b], panel(f, a, b), { scale: rough, tolerance: relativeTolerance }, 24);
  }
  return total;
}

function refine(
  f: (x: number) => number,
  [a, b]: readonly [number, number],
  whole: number,
  goal: { readonly scale: number; readonly tolerance: number },
  depth: number,
): number {
  const middle = 0.5 * (a + b);
  const left = panel(f, a, middle);
  const right = panel(f, middle, b);
  const scale = Math.max(goal.scale, left + right);
  if (depth === 0 || Math.abs(left + right - whole) <= goal.tolerance * scale) return left + right;
  return (
    refine(f, [a, middle], left, { ...goal, scale }, depth - 1) +
    refine(f, [middle, b], right, { ...goal, scale }, depth - 1)
  );
}

function panel(f: (x: number) => number, a: number, b: number): number {
  const { nodes, weights } = gaussLegendreRule(20);
  const half = 0.5 * (b - a);
  const centre = 0.5 * (a + b);
  let sum = 0;
  for (let i = 0; i < nodes.length; i++) sum += weights[i]! * f(centre + half * nodes[i]!);
  return sum * half;
}
