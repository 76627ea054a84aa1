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
 * Method: rotation to the principal axes; integral over one axis of the two tails of the other, with the substitution
 * x = radius sin(theta) that removes the root at the rim; positive terms only.
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
  const integrand = (theta: number): number => {
    const x = radius * Math.sin(theta);
    return (
      (normalDensity((x - wide.mean) / wide.sd) / wide.sd) *
      beyond(narrow, radius * Math.cos(theta)) *
      radius *
      Math.cos(theta)
    );
  };
  return Math.min(1, beyond(wide, radius) + integrateAdaptive(integrand, breakPoints(wide, narrow, radius)));
}

/** P(|value| > limit) for a limit >= 0. */
function beyond({ mean, sd }: Axis, limit: number): number {
  return normalSf((limit - mean) / sd) + normalCdf((-limit - mean) / sd);
}

/** Panels fine enough to see every peak: the density along the wide axis, and the rim where the narrow tail opens. */
function breakPoints(wide: Axis, narrow: Axis, radius: number): readonly number[] {
  const points: number[] = [];
  for (let i = 0; i <= 12; i++) points.push(-Math.PI / 2 + (Math.PI * i) / 12);
  const addX = (x: number): void => {
    if (Math.abs(x) < radius) points.push(Math.asin(x / radius));
  };
  for (const k of [-8, -3, 0, 3, 8]) {
    addX(wide.mean + k * wide.sd);
    const rim = narrow.mean + k * narrow.sd;
    if (rim > 0 && rim < radius) {
      const x = Math.sqrt((radius - rim) * (radius + rim));
      addX(x);
      addX(-x);
    }
  }
  return points.sort((p, q) => p - q);
}
