import { designHarmonics, fitHarmonics, type HarmonicDesign } from "./harmonic-fit";

/** The highest lobe that is looked for: a wall has no more that a bar would feel. */
const MOST_LOBES = 7;
/** Largest variance of a component for unit noise: angles that magnify the noise of a reading tell lobes apart by name only. */
const LARGEST_VARIANCE = 1;
/** Share of a turn within which angles count as equally spaced. */
const EQUAL_SPACING_DEG = 1e-6;

/** One lobe of the radius: cos(order (phi - position)), amplitude in the unit of the readings. */
export type SweepLobe = { readonly order: number; readonly amplitude: number; readonly positionDeg: number };

/** Lobes that the angles of a sweep can tell when nothing is kept for a residual. */
export type LobeDesign = {
  readonly harmonics: HarmonicDesign;
  /** Order of which equally spaced angles see one phase only, half their number; null where there is none. */
  readonly alternating: number | null;
};

function largestVariance({ covariance, orders }: HarmonicDesign): number {
  const p = 1 + 2 * orders.length;
  return Math.max(...Array.from({ length: p - 1 }, (_, j) => covariance[(j + 1) * p + j + 1]!));
}

function isEquallySpaced(anglesDeg: readonly number[]): boolean {
  const sorted = [...anglesDeg].sort((a, b) => a - b);
  const step = 360 / sorted.length;
  return sorted.every((angle, i) => Math.abs(angle - sorted[0]! - i * step) < EQUAL_SPACING_DEG);
}

/**
 * Design of all lobes that a sweep's angles see: to order floor((k - 1) / 2), of equally spaced angles half of order k / 2, too, at
 * most to order 7. The reference circles of the same readings see as many.
 *
 * @param anglesDeg - number[k], degrees, distinct
 * @returns null where no order beside the offset can be told
 */
export function designLobes(anglesDeg: readonly number[]): LobeDesign | null {
  const k = anglesDeg.length;
  for (let order = Math.min(MOST_LOBES, Math.floor((k - 1) / 2)); order >= 1; order -= 1) {
    const orders = Array.from({ length: order }, (_, i) => i + 1);
    const design = designHarmonics(anglesDeg, orders);
    if (!design.ok || largestVariance(design.value) > LARGEST_VARIANCE) continue;
    const isNext = k % 2 === 0 && order === k / 2 - 1 && order < MOST_LOBES && isEquallySpaced(anglesDeg);
    return { harmonics: design.value, alternating: isNext ? k / 2 : null };
  }
  return null;
}

/**
 * Lobes of one section beside its offset.
 *
 * @param readings - number[k], in the order of the design's angles
 * @returns from order 2 up; an order of which one phase is seen has at least the amplitude that is given
 */
export function sweepLobes({ harmonics, alternating }: LobeDesign, readings: ArrayLike<number>): SweepLobe[] {
  const fit = fitHarmonics(harmonics, readings);
  const lobes = fit.harmonics
    .filter(({ order }) => order >= 2)
    .map(({ order, amplitude, positionDeg }): SweepLobe => ({ order, amplitude, positionDeg }));
  if (alternating === null) return lobes;
  const first = harmonics.anglesDeg[0]!;
  const k = harmonics.anglesDeg.length;
  const swing = fit.residuals.reduce(
    (sum, residual, i) =>
      sum + (residual * Math.cos((alternating * (harmonics.anglesDeg[i]! - first) * Math.PI) / 180)) / k,
    0,
  );
  const period = 360 / alternating;
  const position = (((first + (swing < 0 ? period / 2 : 0)) % period) + period) % period;
  return [...lobes, { order: alternating, amplitude: Math.abs(swing), positionDeg: position }];
}
