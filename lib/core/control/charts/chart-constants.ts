import { CoreError } from "../../errors";
import { normalCdf, normalDensity, normalSf } from "../../distributions/normal";
import { normalRangeMoments, normalRangeQuantile } from "../../distributions/normal-range";
import { integratePanels } from "../../numerics/gauss-legendre";

/** Factors for control charts of subgroups of n values; all in units of sigma or without unit. */
export interface ChartConstants {
  readonly n: number;
  /** Mean of the range / sigma. */
  readonly d2: number;
  /** Standard deviation of the range / sigma. */
  readonly d3: number;
  /** Median of the range / sigma. */
  readonly d4: number;
  /** Mean of the standard deviation / sigma. */
  readonly c4: number;
  /** Standard deviation of the standard deviation / sigma, sqrt(1 - c4^2). */
  readonly c5: number;
  /** Standard deviation of the median / sigma. */
  readonly sdMedian: number;
  readonly A: number;
  readonly A2: number;
  readonly A3: number;
  /** Limits of a chart of medians from the mean range. */
  readonly A2Median: number;
  readonly B3: number;
  readonly B4: number;
  readonly B5: number;
  readonly B6: number;
  readonly D1: number;
  readonly D2: number;
  readonly D3: number;
  readonly D4: number;
  readonly E2: number;
  readonly E3: number;
}

const SMALLEST = 2;
const LARGEST = 100;
const known = new Map<number, ChartConstants>();
/** c4[n], filled upwards by c4's gamma ratio recurrence; entries 0 and 1 are unused. */
const c4Table: number[] = [];

/**
 * Control chart constants for subgroups of n values, exact (integrals and gamma functions, no table).
 * Formula: d2, d3 mean and sd of the range; c4 = sqrt(2/(n-1)) Gamma(n/2) / Gamma((n-1)/2); A = 3/sqrt(n), A2 = A/d2,
 * A3 = A/c4; B3, B4 = 1 -/+ 3 c5/c4; B5, B6 = c4 -/+ 3 c5; D1, D2 = d2 -/+ 3 d3; D3, D4 = D1/d2, D2/d2; E2 = 3/d2,
 * E3 = 3/c4; negative lower factors are 0.
 * @param n - subgroup size, integer 2..100
 * @returns the factors, kept after the first call
 * @throws CoreError out-of-range if n is not an integer 2..100
 * Accuracy: 1e-9 on tests/reference/chart-constants.json
 * Source: Tippett 1925, Biometrika 17; David & Nagaraja 2003, Order Statistics, 3rd ed., sections 2.2 and 2.3
 * @example chartConstants(5).d2 // 2.3259289473
 */
export function chartConstants(n: number): ChartConstants {
  const earlier = known.get(n);
  if (earlier) return earlier;
  requireSize("chartConstants", n);
  const { mean: d2, sd: d3 } = normalRangeMoments(n);
  const c4 = c4Constant(n);
  const c5 = Math.sqrt((1 - c4) * (1 + c4));
  const sdMedian = medianSd(n);
  const A = 3 / Math.sqrt(n);
  const D1 = Math.max(0, d2 - 3 * d3);
  const D2 = d2 + 3 * d3;
  const B5 = Math.max(0, c4 - 3 * c5);
  const B6 = c4 + 3 * c5;
  const constants: ChartConstants = {
    n,
    d2,
    d3,
    d4: normalRangeQuantile(0.5, n),
    c4,
    c5,
    sdMedian,
    A,
    A2: A / d2,
    A3: A / c4,
    A2Median: (3 * sdMedian) / d2,
    B3: B5 / c4,
    B4: B6 / c4,
    B5,
    B6,
    D1,
    D2,
    D3: D1 / d2,
    D4: D2 / d2,
    E2: 3 / d2,
    E3: 3 / c4,
  };
  known.set(n, constants);
  return constants;
}

/**
 * Mean of the sample standard deviation of n normal values / sigma (c4), for subgroups and pooled degrees of freedom.
 * Formula: c4(n) = sqrt(2/(n-1)) Gamma(n/2) / Gamma((n-1)/2)
 * @param n - number of values, integer >= 2; for nu pooled degrees of freedom pass nu + 1
 * @returns number in (0, 1)
 * @throws CoreError out-of-range if n is not an integer >= 2
 * Method: exact recurrence of the gamma ratio to 1000, above it the asymptotic series in 1/(n-1) (next term < 1e-16).
 */
export function c4Constant(n: number): number {
  if (!Number.isInteger(n) || n < 2) {
    throw new CoreError("out-of-range", `c4Constant: n must be an integer >= 2; got ${n}`, { n });
  }
  if (n > 1000) {
    const m = n - 1;
    return 1 - 1 / (4 * m) + 1 / (32 * m * m) + 5 / (128 * m * m * m) - 21 / (2048 * m ** 4);
  }
  if (c4Table.length === 0) c4Table.push(0, 0, Math.sqrt(2 / Math.PI));
  for (let size = c4Table.length; size <= n; size++) {
    // g(size) = Gamma(size/2)/Gamma((size-1)/2) and g(size) g(size-1) = (size-2)/2
    c4Table.push((size - 2) / c4Table[size - 1]! / Math.sqrt((size - 1) * (size - 2)));
  }
  return c4Table[n]!;
}

/**
 * Mean range factor for a finite number of subgroups (d2 star), used when the mean of g ranges estimates sigma squared.
 * Formula: d2*(m, g) = sqrt(d2(m)^2 + d3(m)^2 / g)
 * @param m - subgroup size, integer 2..100
 * @param g - number of subgroups, integer >= 1
 * @returns factor in units of sigma
 * @throws CoreError out-of-range for another m or g
 * Source: Duncan 1974, Quality Control and Industrial Statistics, 4th ed., table D3
 */
export function d2Star(m: number, g: number): number {
  requireSize("d2Star", m);
  if (!Number.isInteger(g) || g < 1)
    throw new CoreError("out-of-range", `d2Star: g must be an integer >= 1; got ${g}`, { g });
  const { d2, d3 } = chartConstants(m);
  return Math.sqrt(d2 * d2 + (d3 * d3) / g);
}

/** Standard deviation of the median of n standard normal values; the mean of the middle two when n is even. */
function medianSd(n: number): number {
  const logFactorial = (k: number): number => {
    let sum = 0;
    for (let i = 2; i <= k; i++) sum += Math.log(i);
    return sum;
  };
  if (n % 2 === 1) {
    const k = (n - 1) / 2;
    const scale = Math.exp(logFactorial(n) - 2 * logFactorial(k));
    const density = (x: number): number => x * x * normalDensity(x) * Math.pow(normalCdf(x) * normalSf(x), k);
    return Math.sqrt(2 * scale * integratePanels(density, [0, 9.5], 12));
  }
  const k = n / 2;
  const scale = 2 * Math.exp(logFactorial(n) - 2 * logFactorial(k - 1));
  // Graded panels: the gap between the middle values shrinks like 1/n.
  const edges = [0, 0.04, 0.12, 0.4, 1.2, 3, 9.5];
  const overGap = (m: number): number => {
    const joint = (h: number): number =>
      normalDensity(m - h) * normalDensity(m + h) * Math.pow(normalCdf(m - h) * normalSf(m + h), k - 1);
    let total = 0;
    for (let i = 1; i < edges.length; i++) total += integratePanels(joint, [edges[i - 1]!, edges[i]!], 1, 16);
    return total;
  };
  return Math.sqrt(2 * scale * integratePanels((m) => m * m * overGap(m), [0, 9.5], 12, 16));
}

function requireSize(name: string, n: number): void {
  if (!Number.isInteger(n) || n < SMALLEST || n > LARGEST) {
    throw new CoreError("out-of-range", `${name}: n must be an integer ${SMALLEST}..${LARGEST}; got ${n}`, { n });
  }
}
