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

/** A circle about (y, z). `beyond` is the radius minus the distance of the centre from the origin of the section. */
type Trial = { y: number; z: number; radius: number; beyond: number; sumSquares: number };

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
/** From so many points on the starts are fewer, so that their work stays the same: many points leave fewer local minima. */
const MANY_POINTS = 1000;

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
    const deviation = excessDistance(section.y[i]!, section.z[i]!, best.y, best.z) - best.beyond;
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

/**
 * Centre of the algebraic circle about the centroid: a linear least-squares problem of two unknowns, on the principal axes of
 * the points, so that nearly straight ones leave its determinant its digits.
 */
function algebraicCentre({ n, y, z }: SectionPoints): [number, number] {
  let [yy, yz, zz] = [0, 0, 0];
  for (let i = 0; i < n; i++) {
    yy += y[i]! * y[i]!;
    yz += y[i]! * z[i]!;
    zz += z[i]! * z[i]!;
  }
  const angle = 0.5 * Math.atan2(2 * yz, yy - zz);
  const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
  let [aa, ab, bb, wa, wb] = [0, 0, 0, 0, 0];
  for (let i = 0; i < n; i++) {
    const along = y[i]! * cos + z[i]! * sin;
    const across = z[i]! * cos - y[i]! * sin;
    const w = along * along + across * across;
    aa += along * along;
    ab += along * across;
    bb += across * across;
    wa += w * along;
    wb += w * across;
  }
  const determinant = 2 * (aa * bb - ab * ab);
  const [centreA, centreB] = [(wa * bb - wb * ab) / determinant, (wb * aa - wa * ab) / determinant];
  return [centreA * cos - centreB * sin, centreA * sin + centreB * cos];
}

/** Inside one section no square can overflow, and Math.hypot is many times slower. */
function distance(dy: number, dz: number): number {
  return Math.sqrt(dy * dy + dz * dz);
}

/** Distance of a point from a centre minus that of the origin from it: keeps its digits however far the centre is. */
function excessDistance(y: number, z: number, cy: number, cz: number): number {
  return (y * (y - 2 * cy) + z * (z - 2 * cz)) / (distance(y - cy, z - cz) + distance(cy, cz) || Number.MIN_VALUE);
}

function evaluate({ n, y, z }: SectionPoints, cy: number, cz: number): Trial {
  let sum = 0;
  for (let i = 0; i < n; i++) sum += excessDistance(y[i]!, z[i]!, cy, cz);
  const beyond = sum / n;
  let sumSquares = 0;
  for (let i = 0; i < n; i++) {
    const e = excessDistance(y[i]!, z[i]!, cy, cz) - beyond;
    sumSquares += e * e;
  }
  return { y: cy, z: cz, radius: distance(cy, cz) + beyond, beyond, sumSquares };
}

/** Step from a trial, along y and z. */
type Step = { y: number; z: number };
/** Half the gradient (negative) and half the second derivative of the sum of squares, towards the centre and across. */
type Slope = { arr: number; art: number; att: number; gr: number; gt: number; toY: number; toZ: number };

/**
 * `curved` adds the curvature terms. Directions are taken against that from the centre to the origin: seen from far away all
 * directions are nearly one, and only their differences count.
 */
function slopeAt({ n, y, z }: SectionPoints, at: Trial, curved: boolean): Slope {
  const far = distance(at.y, at.z);
  const [toY, toZ] = far > 0 ? [at.y / far, at.z / far] : [1, 0];
  let [meanR, meanT, arr, art, att, gr, gt] = [0, 0, 0, 0, 0, 0, 0];
  for (let i = 0; i < n; i++) {
    const d = distance(y[i]! - at.y, z[i]! - at.z) || Number.MIN_VALUE;
    const excess = excessDistance(y[i]!, z[i]!, at.y, at.z);
    const r = (y[i]! * toY + z[i]! * toZ + excess) / d;
    const t = (z[i]! * toY - y[i]! * toZ) / d;
    const e = excess - at.beyond;
    meanR += r / n;
    meanT += t / n;
    arr += r * r;
    art += r * t;
    att += t * t;
    gr += r * e;
    gt += t * e;
    if (curved) {
      const bend = e / d;
      arr += bend * t * t;
      art -= bend * (r - 1) * t;
      att += bend * (r - 1) * (r - 1);
    }
  }
  return { arr: arr - n * meanR * meanR, art: art - n * meanR * meanT, att: att - n * meanT * meanT, gr, gt, toY, toZ };
}

/** Step that solves the slope's equations with so much of each diagonal added. */
function stepOf({ arr, art, att, gr, gt, toY, toZ }: Slope, damping: number): Step {
  const [brr, btt] = [arr * (1 + damping), att * (1 + damping)];
  const determinant = brr * btt - art * art;
  const [r, t] = [(gr * btt - gt * art) / determinant, (gt * brr - gr * art) / determinant];
  return { y: r * toY - t * toZ, z: r * toZ + t * toY };
}

/** Levenberg-Marquardt from a start, then Newton to the last digits; null where it does not settle at a finite circle. */
function descend(section: SectionPoints, startY: number, startZ: number): Trial | null {
  let at = evaluate(section, startY, startZ);
  let damping = 0;
  for (let tries = 0; tries < MAX_STEPS; tries++) {
    const slope = slopeAt(section, at, false);
    for (;;) {
      const step = stepOf(slope, damping);
      const length = distance(step.y, step.z);
      if (length <= NEWTON_REACH * at.radius) return polish(section, at);
      const next = Number.isFinite(length) ? evaluate(section, at.y + step.y, at.z + step.z) : null;
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
    const next = stepOf(slopeAt(section, at, true), 0);
    const length = distance(next.y, next.z);
    if (!(length < previous)) return at;
    at = evaluate(section, at.y + next.y, at.z + next.z);
    if (length <= STEP_TOLERANCE * at.radius) return at;
    previous = length;
  }
  return at;
}

/** Centres of the circles through three of the points: all triples, or MAX_STARTS of them and fewer, evenly through their list. */
function circumcentres({ n, y, z }: SectionPoints): [number, number][] {
  const centres: [number, number][] = [];
  const triples = (n * (n - 1) * (n - 2)) / 6;
  const stride = Math.max(1, Math.ceil((triples / MAX_STARTS) * Math.max(1, n / MANY_POINTS)));
  for (let rank = 0; rank < triples; rank += stride) {
    const [i, j, k] = tripleAt(n, rank);
    const [ay, az, by, bz] = [y[j]! - y[i]!, z[j]! - z[i]!, y[k]! - y[i]!, z[k]! - z[i]!];
    const cross = 2 * (ay * bz - az * by);
    const [a2, b2] = [ay * ay + az * az, by * by + bz * bz];
    const centre: [number, number] = [y[i]! + (bz * a2 - az * b2) / cross, z[i]! + (ay * b2 - by * a2) / cross];
    if (Number.isFinite(centre[0]) && Number.isFinite(centre[1])) centres.push(centre);
  }
  return centres;
}

/** The triple i < j < k of n places that stands at a rank of their list, (0, 1, 2) at rank 0. */
function tripleAt(n: number, rank: number): [number, number, number] {
  let left = rank;
  let i = 0;
  for (let after = n - 1; left >= (after * (after - 1)) / 2; after--, i++) left -= (after * (after - 1)) / 2;
  let j = i + 1;
  for (; left >= n - 1 - j; j++) left -= n - 1 - j;
  return [i, j, j + 1 + left];
}
