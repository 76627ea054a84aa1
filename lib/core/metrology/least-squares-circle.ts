import { CoreError } from "../errors";
import type { PlanePoint } from "./plane-point";
import { type SectionPoints, toSectionPoints } from "./section-points";

/** Least squares reference circle of a section (LSCI). Lengths in the unit of the points. */
export type LeastSquaresCircle = {
  readonly centre: PlanePoint;
  readonly radius: number;
  /** Sum of the squared distances from the circle. */
  readonly sumSquares: number;
  /** Largest outward and inward deviation, both >= 0. */
  readonly peak: number;
  readonly valley: number;
};

type Trial = { y: number; z: number; radius: number; sumSquares: number };

/** Steps below this part of the radius change nothing that double precision can hold. */
const STEP_TOLERANCE = 1e-15;
/** From steps of this part of the radius on, Newton's method settles by itself. */
const NEWTON_REACH = 1e-6;
/** A radius of so many times the scale is a line. */
const LINE_RADIUS = 1e7;
const MAX_STEPS = 300;
const MAX_POLISH = 20;
/** A section whose scatter is below this part of its radius, seen from all around, has one minimum only. */
const ROUND_ENOUGH = 0.005;
/** Starts tried on a section that is not round: circles through three of its points. */
const MAX_STARTS = 400;

/**
 * Least squares circle: minimises the sum of squared orthogonal distances (the geometric fit, not the algebraic one).
 * Formula: min over c of sum((d_i - mean d)^2), d_i = |p_i - c|; r = mean d.
 *
 * @param points - PlanePoint[n], n >= 3, one length unit, all finite and different, not on one line
 * @returns centre, radius, sum of squares, largest deviation to either side
 * @throws CoreError too-few-values, not-finite, duplicate, degenerate (on one line, or no finite circle fits best)
 * Method: Levenberg-Marquardt on the centre, radius eliminated, from the algebraic circle; sections that are not round or not
 * seen from all around are also started from the circles through three of their points, and the best minimum is kept.
 * Accuracy: published sets to their digits; random sets against exhaustive search (tests/core/metrology)
 * Source: ISO 12181-1, ISO 4291; Gander, Golub, Strebel 1994, BIT 34, 558-578
 */
export function leastSquaresCircle(points: readonly PlanePoint[]): LeastSquaresCircle {
  return fitLeastSquares(toSectionPoints(points, "leastSquaresCircle"));
}

/** The fit of `leastSquaresCircle` on points that were checked before. */
export function fitLeastSquares(section: SectionPoints): LeastSquaresCircle {
  const first = descend(section, ...algebraicCentre(section));
  let best = first;
  const round = first !== null && first.sumSquares <= section.n * (ROUND_ENOUGH * first.radius) ** 2;
  if (!round || !surrounds(section, first)) {
    for (const [y, z] of circumcentres(section)) {
      const trial = descend(section, y, z);
      if (trial !== null && (best === null || trial.sumSquares < best.sumSquares)) best = trial;
    }
  }
  if (best === null)
    throw new CoreError(
      "degenerate",
      "leastSquaresCircle: points must fit a finite circle better than a line; got a line",
      {
        count: section.n,
      },
    );
  let peak = 0;
  let valley = 0;
  for (let i = 0; i < section.n; i++) {
    const deviation = distance(section.y[i]! - best.y, section.z[i]! - best.z) - best.radius;
    peak = Math.max(peak, deviation);
    valley = Math.max(valley, -deviation);
  }
  const centre = { y: section.origin.y + best.y, z: section.origin.z + best.z };
  return { centre, radius: best.radius, sumSquares: best.sumSquares, peak, valley };
}

/** Whether the points lie all around: no gap of 120 degrees or more seen from the centre. */
function surrounds({ n, y, z }: SectionPoints, centre: { y: number; z: number }): boolean {
  const angles = new Float64Array(n);
  for (let i = 0; i < n; i++) angles[i] = Math.atan2(z[i]! - centre.z, y[i]! - centre.y);
  angles.sort();
  let gap = angles[0]! + 2 * Math.PI - angles[n - 1]!;
  for (let i = 1; i < n; i++) gap = Math.max(gap, angles[i]! - angles[i - 1]!);
  return gap < (2 * Math.PI) / 3;
}

/** Centre of the algebraic circle about the centroid: a linear least-squares problem of two unknowns. */
function algebraicCentre({ n, y, z }: SectionPoints): [number, number] {
  let [yy, yz, zz, wy, wz] = [0, 0, 0, 0, 0];
  for (let i = 0; i < n; i++) {
    const w = y[i]! * y[i]! + z[i]! * z[i]!;
    yy += y[i]! * y[i]!;
    yz += y[i]! * z[i]!;
    zz += z[i]! * z[i]!;
    wy += w * y[i]!;
    wz += w * z[i]!;
  }
  const determinant = 2 * (yy * zz - yz * yz);
  return [(wy * zz - wz * yz) / determinant, (wz * yy - wy * yz) / determinant];
}

/** Inside one section no square can overflow, and Math.hypot is many times slower. */
function distance(dy: number, dz: number): number {
  return Math.sqrt(dy * dy + dz * dz);
}

function evaluate({ n, y, z }: SectionPoints, cy: number, cz: number): Trial {
  let sum = 0;
  for (let i = 0; i < n; i++) sum += distance(y[i]! - cy, z[i]! - cz);
  const radius = sum / n;
  let sumSquares = 0;
  for (let i = 0; i < n; i++) {
    const e = distance(y[i]! - cy, z[i]! - cz) - radius;
    sumSquares += e * e;
  }
  return { y: cy, z: cz, radius, sumSquares };
}

type Slope = { ayy: number; ayz: number; azz: number; gy: number; gz: number };

/** Half the gradient (negative) and half the second derivative of the sum of squares; `curved` adds the curvature terms. */
function slopeAt({ n, y, z }: SectionPoints, at: Trial, curved: boolean): Slope {
  let meanUy = 0;
  let meanUz = 0;
  let ayy = 0;
  let ayz = 0;
  let azz = 0;
  let gy = 0;
  let gz = 0;
  for (let i = 0; i < n; i++) {
    const d = distance(y[i]! - at.y, z[i]! - at.z) || Number.MIN_VALUE;
    const uy = (y[i]! - at.y) / d;
    const uz = (z[i]! - at.z) / d;
    const e = d - at.radius;
    const bend = curved ? e / d : 0;
    meanUy += uy / n;
    meanUz += uz / n;
    ayy += uy * uy + bend * uz * uz;
    ayz += uy * uz * (1 - bend);
    azz += uz * uz + bend * uy * uy;
    gy += uy * e;
    gz += uz * e;
  }
  return { ayy: ayy - n * meanUy * meanUy, ayz: ayz - n * meanUy * meanUz, azz: azz - n * meanUz * meanUz, gy, gz };
}

/** Levenberg-Marquardt from a start, then Newton to the last digits; null where it does not settle at a finite circle. */
function descend(section: SectionPoints, startY: number, startZ: number): Trial | null {
  let at = evaluate(section, startY, startZ);
  let damping = 0;
  for (let step = 0; step < MAX_STEPS; step++) {
    const { ayy, ayz, azz, gy, gz } = slopeAt(section, at, false);
    for (;;) {
      const byy = ayy + damping * (ayy + azz);
      const bzz = azz + damping * (ayy + azz);
      const determinant = byy * bzz - ayz * ayz;
      const stepY = (gy * bzz - gz * ayz) / determinant;
      const stepZ = (gz * byy - gy * ayz) / determinant;
      const length = distance(stepY, stepZ);
      if (length <= NEWTON_REACH * at.radius) return polish(section, at);
      const next = Number.isFinite(length) ? evaluate(section, at.y + stepY, at.z + stepZ) : null;
      if (next !== null && next.sumSquares < at.sumSquares) {
        at = next;
        damping = damping > 1e-12 ? damping / 10 : 0;
        break;
      }
      damping = damping === 0 ? 1e-6 : damping * 10;
      // Only squares beyond the range of numbers leave every step, however short, without an answer.
      if (!Number.isFinite(damping)) return null;
    }
    if (at.radius > LINE_RADIUS * section.scale) return null;
  }
  return null;
}

/** Newton steps as long as they shrink: the sum of squares itself is too flat to show the last half of the digits. */
function polish(section: SectionPoints, start: Trial): Trial {
  let at = start;
  let previous = Infinity;
  for (let step = 0; step < MAX_POLISH; step++) {
    const { ayy, ayz, azz, gy, gz } = slopeAt(section, at, true);
    const determinant = ayy * azz - ayz * ayz;
    const stepY = (gy * azz - gz * ayz) / determinant;
    const stepZ = (gz * ayy - gy * ayz) / determinant;
    const length = distance(stepY, stepZ);
    if (!(length < previous)) return at;
    at = evaluate(section, at.y + stepY, at.z + stepZ);
    if (length <= STEP_TOLERANCE * at.radius) return at;
    previous = length;
  }
  return at;
}

function circumcentres({ n, y, z }: SectionPoints): [number, number][] {
  const centres: [number, number][] = [];
  const stride = Math.max(1, Math.ceil((n * (n - 1) * (n - 2)) / 6 / MAX_STARTS));
  let count = 0;
  for (let i = 0; i < n; i++)
    for (let j = i + 1; j < n; j++)
      for (let k = j + 1; k < n; k++) {
        if (count++ % stride !== 0) continue;
        const [ay, az, by, bz] = [y[j]! - y[i]!, z[j]! - z[i]!, y[k]! - y[i]!, z[k]! - z[i]!];
        const cross = 2 * (ay * bz - az * by);
        const [a2, b2] = [ay * ay + az * az, by * by + bz * bz];
        const centre: [number, number] = [y[i]! + (bz * a2 - az * b2) / cross, z[i]! + (ay * b2 - by * a2) / cross];
        if (Number.isFinite(centre[0]) && Number.isFinite(centre[1])) centres.push(centre);
      }
  return centres;
}
