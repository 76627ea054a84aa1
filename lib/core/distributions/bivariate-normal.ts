import { CoreError } from "../errors";
import { integrateAdaptive } from "../numerics/integrate-adaptive";
import { normalCdf, normalDensity, normalSf } from "./normal";

/** Mean and covariance of a vector in the plane, unit u (mean) and u^2 (covariance). */
export interface BivariateNormal {
  readonly mean: readonly [number, number];
  /** [variance of the first, covariance, variance of the second]. */
  readonly covariance: readonly [number, number, number];
}

/**
 * Exact probability that a bivariate normal vector lies outside a circle about the origin.
 * @param distribution - mean (two values, unit u) and covariance (three values, u^2), positive semidefinite
 * @param radius - of the circle, > 0, unit u
 * @returns probability, relative accuracy kept in the far tail
 * @throws CoreError not-finite, or out-of-range if the radius is not > 0 or the covariance is not positive semidefinite
 * Method: rotation to the principal axes; integral over the wide axis of the two tails of the other, with a substitution that
 * removes the root at the rim; positive terms only.
 * Accuracy: 10 digits on tests/reference/outside-circle.json
 * Edge cases: one or both variances 0 -> the one-dimensional fraction, or 0 or 1
 * Source: elementary; for equal variances it is the Rice upper tail (Rice 1945)
 */
export function fractionOutsideCircle(distribution: BivariateNormal, radius: number): number {
  const [xx, xy, yy] = distribution.covariance;
  for (const value of [...distribution.mean, xx, xy, yy]) {
    if (!Number.isFinite(value)) {
      throw new CoreError("not-finite", `fractionOutsideCircle: mean and covariance must be finite; got ${value}`);
    }
  }
  if (!(radius > 0 && Number.isFinite(radius))) {
    throw new CoreError("out-of-range", `fractionOutsideCircle: radius must be > 0; got ${radius}`, { radius });
  }
  const half = 0.5 * (xx - yy);
  const reach = Math.hypot(half, xy);
  const major = 0.5 * (xx + yy) + reach;
  // product form of the smaller eigenvalue: no cancellation
  const minor = major > 0 ? (xx * yy - xy * xy) / major : 0;
  if (xx < 0 || yy < 0 || minor < -1e-12 * major) {
    throw new CoreError("out-of-range", "fractionOutsideCircle: covariance must be positive semidefinite", {
      xx,
      xy,
      yy,
    });
  }
  const angle = 0.5 * Math.atan2(xy, half);
  const [mx, my] = distribution.mean;
  const along = Math.cos(angle) * mx + Math.sin(angle) * my;
  const across = -Math.sin(angle) * mx + Math.cos(angle) * my;
  return onPrincipalAxes(
    { mean: Math.abs(along), sd: Math.sqrt(major) },
    { mean: Math.abs(across), sd: minor > 1e-24 * major ? Math.sqrt(minor) : 0 },
    radius,
  );
}

interface Axis {
  readonly mean: number;
  readonly sd: number;
}

function onPrincipalAxes(wide: Axis, narrow: Axis, radius: number): number {
  if (wide.sd === 0) return Math.hypot(wide.mean, narrow.mean) > radius ? 1 : 0;
  if (narrow.sd === 0) {
    if (narrow.mean >= radius) return 1;
    return beyond(wide, Math.sqrt((radius - narrow.mean) * (radius + narrow.mean)));
  }
  const outsideAlong = beyond(wide, radius);
  const inside = [half(wide, narrow, radius, 1), half(wide, narrow, radius, -1)];
  return Math.min(
    1,
    inside.reduce(
      (sum, { integrand, breaks }) => sum + integrateAdaptive(integrand, breaks, outsideAlong),
      outsideAlong,
    ),
  );
}

/**
 * The part of the circle on one side of its middle along the wide axis, in standard deviations z of that axis from its mean;
 * where the rim lies within reach, in the root s of the distance from it, in which the chord is smooth. Distances from the rim
 * are never differences of large numbers.
 */
function half(wide: Axis, narrow: Axis, radius: number, side: 1 | -1) {
  const rim = (side * (radius - side * wide.mean)) / wide.sd;
  const from = clamp(-wide.mean / wide.sd);
  const to = clamp(rim);
  if (side * (to - from) <= 0) return { integrand: () => 0, breaks: [] };
  const tails = (chord: number, past: number) =>
    normalSf(past / narrow.sd) + normalCdf((-chord - narrow.mean) / narrow.sd);
  const cuts: number[] = [];
  for (let step = 0; step <= Math.ceil(Math.abs(to - from) / STRIDE); step++) cuts.push(step * STRIDE);
  if (to !== rim) {
    // Rounded once, not at every z: the integrand stays smooth however narrow the distribution is.
    const room = (radius - narrow.mean) * (radius + narrow.mean) - wide.mean * wide.mean;
    const integrand = (z: number): number => {
      const moved = wide.sd * z;
      const x = wide.mean + moved;
      const chord = Math.sqrt((radius - x) * (radius + x));
      const past = (room - moved * (2 * wide.mean + moved)) / (chord + narrow.mean);
      return normalDensity(z) * tails(chord, past);
    };
    const places = [
      ...cuts.map((cut) => from + side * cut),
      ...rimPlaces(narrow, radius).map(({ x }) => (side * x - wide.mean) / wide.sd),
    ];
    return { integrand, breaks: sortedWithin(places, from, to) };
  }
  const integrand = (s: number): number => {
    const chord = s * Math.sqrt(wide.sd * (2 * radius - wide.sd * s * s));
    return 2 * s * normalDensity(rim - side * s * s) * tails(chord, chord - narrow.mean);
  };
  const deepest = Math.sqrt(Math.abs(to - from));
  const places = [
    ...cuts.map((cut) => Math.sqrt(cut)),
    ...rimPlaces(narrow, radius).map(({ x, chord }) => chord / Math.sqrt((radius + x) * wide.sd)),
  ];
  return { integrand, breaks: sortedWithin(places, 0, deepest) };
}
/** P(|value| > limit) for a limit >= 0. */
function beyond({ mean, sd }: Axis, limit: number): number {
  return normalSf((limit - mean) / sd) + normalCdf((-limit - mean) / sd);
}

/** Standard deviations from the mean at which the normal density underflows. */
const REACH = 39;
/** Standard deviations of the wide axis that the first panels span. */
const STRIDE = 2;

function clamp(z: number): number {
  return Math.min(REACH, Math.max(-REACH, z));
}

/** Places along the wide axis where the chord meets the narrow axis' distribution, and the chord there. */
function rimPlaces(narrow: Axis, radius: number): { x: number; chord: number }[] {
  return [-8, -3, 0, 3, 8].flatMap((k) => {
    const chord = narrow.mean + k * narrow.sd;
    return chord > 0 && chord < radius ? [{ x: Math.sqrt((radius - chord) * (radius + chord)), chord }] : [];
  });
}

/** The places that lie between two ends, with the ends, ascending. */
function sortedWithin(places: readonly number[], one: number, other: number): number[] {
  const [low, high] = one < other ? [one, other] : [other, one];
  return [low, ...places.filter((place) => place > low && place < high), high].sort((a, b) => a - b);
}
