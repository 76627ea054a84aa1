import { CoreError } from "../errors";

interface Rule {
  readonly nodes: Float64Array;
  readonly weights: Float64Array;
}

const rules = new Map<number, Rule>();

/**
 * Nodes and weights of the Gauss-Legendre rule of a given order on [-1, 1], kept after the first call.
 * @param order - number of nodes, integer 2..200
 * @returns nodes ascending, weights summing to 2
 * @throws CoreError out-of-range for another order
 * Method: Newton iteration on the Legendre recurrence from the asymptotic cosine guess.
 * Source: Davis & Rabinowitz 1984, Methods of Numerical Integration, 2nd ed., section 2.7
 */
export function gaussLegendreRule(order: number): Rule {
  const known = rules.get(order);
  if (known) return known;
  if (!Number.isInteger(order) || order < 2 || order > 200) {
    throw new CoreError("out-of-range", `gaussLegendreRule: order must be an integer 2..200; got ${order}`, { order });
  }
  const nodes = new Float64Array(order);
  const weights = new Float64Array(order);
  for (let i = 0; i < (order + 1) / 2; i++) {
    let x = Math.cos((Math.PI * (i + 0.75)) / (order + 0.5));
    let slope = 1;
    for (let iteration = 0; iteration < 30; iteration++) {
      let p0 = 1;
      let p1 = x;
      for (let k = 2; k <= order; k++) {
        const p2 = ((2 * k - 1) * x * p1 - (k - 1) * p0) / k;
        p0 = p1;
        p1 = p2;
      }
      slope = (order * (x * p1 - p0)) / (x * x - 1);
      const step = p1 / slope;
      x -= step;
      if (Math.abs(step) < 1e-15) break;
    }
    const weight = 2 / ((1 - x * x) * slope * slope);
    nodes[i] = -x;
    nodes[order - 1 - i] = x;
    weights[i] = weight;
    weights[order - 1 - i] = weight;
  }
  const rule = { nodes, weights };
  rules.set(order, rule);
  return rule;
}

/**
 * Integral of a smooth function over a finite interval by Gauss-Legendre panels of equal width.
 * @param f - integrand, finite on (a, b)
 * @param interval - [a, b] with a <= b
 * @param panels - number of panels, >= 1
 * @param order - nodes per panel, default 20
 * @returns approximation of the integral
 */
export function integratePanels(
  f: (x: number) => number,
  [a, b]: readonly [number, number],
  panels: number,
  order = 20,
): number {
  const { nodes, weights } = gaussLegendreRule(order);
  const half = (b - a) / panels / 2;
  let total = 0;
  for (let panel = 0; panel < panels; panel++) {
    const centre = a + (2 * panel + 1) * half;
    let sum = 0;
    for (let i = 0; i < nodes.length; i++) sum += weights[i]! * f(centre + half * nodes[i]!);
    total += sum * half;
  }
  return total;
}
