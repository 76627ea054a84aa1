import { CoreError, type Estimate } from "../errors";
import type { SeededGenerator } from "../numerics/seeded-generator";
import { solveLinearProgramme } from "../numerics/linear-programme";
import { type CylinderContact, functionalSize } from "./functional-size";
import { type DrawnFeature, summariseDraws } from "./monte-carlo-uncertainty";
import type { HarmonicSection } from "./seat-section";
import { wallRadiusMm } from "./seat-wall";

/** Standard uncertainties (k = 1) of what places and shapes the sections, µm. */
export type SectionNoise = {
  /** Mean diameter of each section by itself: random reading noise through its mean. */
  readonly diameterUm: number;
  /** Diameter of all sections together: ring, indicator, temperature. */
  readonly commonDiameterUm: number;
  /** Each component of a section's centre. */
  readonly centreUm: number;
  /** Each component of the 2nd harmonic of the radius. */
  readonly ovalUm: number;
};

/** Wall directions per section: between two of them the wall of a third-order form of 5 µm bends by less than 0.2 µm. */
const DIRECTIONS = 36;

/** Wall points within this of touching can be the next to touch, mm. */
const NEAR_MM = 0.004;

/** A pair of seats prepared for drawing: one row per wall point, linear about the axis of the largest bar. */
export type DrawableSeats = {
  readonly rows: Float64Array;
  readonly limits: Float64Array;
  readonly count: number;
  /** So many rows in front lie near the wall's touch; each draw solves with these and checks the others. */
  readonly near: number;
  /** Section of each row, and its direction. */
  readonly sectionOf: Int32Array;
  readonly sections: number;
  readonly radiusMm: number;
  readonly basis: readonly number[];
};

/** Errors of one draw, mm, per section: radius, centre, 2nd harmonic of the radius. */
export type SectionErrors = {
  readonly radius: Float64Array;
  readonly y: Float64Array;
  readonly z: Float64Array;
  readonly cos2: Float64Array;
  readonly sin2: Float64Array;
};

/**
 * Prepares a pair of seats for many evaluations of the functional size with small errors.
 *
 * @returns no answer where `functionalSize` has none
 * @throws CoreError as `functionalSize`
 * Method: the linear programme of `functionalSize` at its solution; an error shifts the limits only, so that the last basis
 * is a start from which few pivots lead to the new optimum
 */
export function drawableSeats(sections: readonly HarmonicSection[]): Estimate<DrawableSeats> {
  const solved = functionalSize(sections);
  if (!solved.ok) return solved;
  const { axisAtZero, slope, diameterMm, contacts } = solved.value;
  const radiusMm = diameterMm / 2;
  const middle = (Math.min(...sections.map((s) => s.xMm)) + Math.max(...sections.map((s) => s.xMm))) / 2;
  const half = Math.max(...sections.map((s) => Math.abs(s.xMm - middle)));
  const points = sections.flatMap((section, at) => {
    const touching = contacts.filter((c) => c.seat === section.seat && c.depthMm === section.depthMm);
    const directions = [
      ...Array.from({ length: DIRECTIONS }, (_, i) => (i * 2 * Math.PI) / DIRECTIONS),
      ...touching.map((c) => (c.clockDeg * Math.PI) / 180),
    ];
    return directions.map((phi) => ({ section, at, phi, t: (section.xMm - middle) / half }));
  });
  const count = points.length;
  const rows = new Float64Array(count * 5);
  const limits = new Float64Array(count);
  points.forEach(({ section, phi, t }, i) => {
    const r = wallRadiusMm(section, phi);
    const dy = (section.centre?.y ?? 0) + r * Math.cos(phi) - axisAtZero.y - slope.y * section.xMm;
    const dz = (section.centre?.z ?? 0) + r * Math.sin(phi) - axisAtZero.z - slope.z * section.xMm;
    const d = Math.sqrt(dy * dy + dz * dz);
    rows.set([dy / d, dz / d, (t * dy) / d, (t * dz) / d, 1], i * 5);
    limits[i] = d - radiusMm;
  });
  const first = solve({ rows, limits, count, radiusMm, basis: undefined });
  if (!first.ok) return first;
  const sectionOf = Int32Array.from(points, (p) => p.at);
  const { x, basis } = first.value;
  // Rows by their slack at the optimum: those in front decide, the others are only looked at.
  const slack = points.map((_, i) => {
    let sum = limits[i]!;
    for (let k = 0; k < 5; k++) sum -= rows[i * 5 + k]! * x[k]!;
    return sum;
  });
  const order = points.map((_, i) => i).sort((a, b) => slack[a]! - slack[b]!);
  return {
    ok: true,
    value: {
      rows: Float64Array.from(order.flatMap((i) => Array.from(rows.subarray(i * 5, i * 5 + 5)))),
      limits: Float64Array.from(order, (i) => limits[i]!),
      count,
      near: order.filter((i) => slack[i]! < NEAR_MM).length,
      sectionOf: Int32Array.from(order, (i) => sectionOf[i]!),
      sections: sections.length,
      radiusMm,
      basis: basis.map((id) => (id < 0 ? id : order.indexOf(id))),
    },
    warnings: [],
  };
}

function solve(given: {
  rows: Float64Array;
  limits: Float64Array;
  count: number;
  radiusMm: number;
  basis: readonly number[] | undefined;
}) {
  const { rows, limits, count, radiusMm, basis } = given;
  const bound = radiusMm / 10;
  return solveLinearProgramme({
    objective: [0, 0, 0, 0, -1],
    rows,
    limits,
    count,
    bounds: [bound, bound, bound, bound, bound],
    tolerance: 1e-12 * radiusMm,
    ...(basis && { startBasis: basis }),
  });
}

/** Functional size with the errors of one draw, diameter mm; `scratch` holds as many numbers as there are rows. */
function drawnDiameterMm(seats: DrawableSeats, errors: SectionErrors, scratch: Float64Array): number {
  const { rows, limits, count, sectionOf, radiusMm, basis } = seats;
  for (let i = 0; i < count; i++) {
    const at = sectionOf[i]!;
    const uy = rows[i * 5]!;
    const uz = rows[i * 5 + 1]!;
    scratch[i] =
      limits[i]! +
      errors.radius[at]! +
      uy * errors.y[at]! +
      uz * errors.z[at]! +
      (uy * uy - uz * uz) * errors.cos2[at]! +
      2 * uy * uz * errors.sin2[at]!;
  }
  let solved = solve({ rows, limits: scratch, count: seats.near, radiusMm, basis });
  if (solved.ok && isViolated(seats, solved.value.x, scratch))
    solved = solve({ rows, limits: scratch, count, radiusMm, basis });
  if (!solved.ok)
    throw new CoreError("not-converged", `functionalSizeUncertainty: a draw has no solution; ${solved.reason}`);
  return 2 * (radiusMm + solved.value.x[4]!);
}

function isViolated(
  { rows, count, near, radiusMm }: DrawableSeats,
  x: readonly number[],
  limits: Float64Array,
): boolean {
  const [a, b, c, d, e] = [x[0]!, x[1]!, x[2]!, x[3]!, x[4]!];
  for (let i = near, at = near * 5; i < count; i++, at += 5) {
    const sum = rows[at]! * a + rows[at + 1]! * b + rows[at + 2]! * c + rows[at + 3]! * d + rows[at + 4]! * e;
    if (sum > limits[i]! + 1e-12 * radiusMm) return true;
  }
  return false;
}

/**
 * Functional size of each draw of section errors, diameter mm: for tests and for other noise than `SectionNoise`.
 *
 * @throws CoreError length-mismatch where the errors are not one per section
 */
export function functionalSizeWithErrors(seats: DrawableSeats, errors: SectionErrors): number {
  for (const values of Object.values(errors))
    if (values.length !== seats.sections)
      throw new CoreError(
        "length-mismatch",
        `functionalSizeWithErrors: errors must be ${seats.sections}; got ${values.length}`,
      );
  return drawnDiameterMm(seats, errors, new Float64Array(seats.count));
}

/**
 * Standard uncertainty of the functional size in closed form (k = 1): the contacts hold the cylinder with their shares, so that
 * the diameter moves by twice the share of every error at its contact.
 * Formula: u^2 = common^2 + sum over sections of (S diameter)^2 + |2 sum share u|^2 centre^2 + |2 sum share u2|^2 oval^2,
 * S the section's shares together, u the direction of a contact, u2 that of twice its angle
 *
 * @param contacts - of the largest bar or the smallest ream
 * @param noise - standard uncertainties, µm
 * @returns u of the diameter, µm
 * Accuracy: first order; agrees with the Monte Carlo within 3 standard errors while the same contacts hold, and is a little
 * large where they change within the noise (tests/core/metrology)
 * Source: GUM 5.1.2
 */
export function functionalSizeStandardUm(contacts: readonly CylinderContact[], noise: SectionNoise): number {
  const sections = new Map<string, { share: number; y: number; z: number; cos2: number; sin2: number }>();
  for (const { seat, depthMm, clockDeg, share } of contacts) {
    const key = `${seat} ${depthMm}`;
    const sum = sections.get(key) ?? { share: 0, y: 0, z: 0, cos2: 0, sin2: 0 };
    const phi = (clockDeg * Math.PI) / 180;
    sum.share += share;
    sum.y += share * Math.cos(phi);
    sum.z += share * Math.sin(phi);
    sum.cos2 += share * Math.cos(2 * phi);
    sum.sin2 += share * Math.sin(2 * phi);
    sections.set(key, sum);
  }
  let variance = noise.commonDiameterUm ** 2;
  for (const { share, y, z, cos2, sin2 } of sections.values())
    variance +=
      (share * noise.diameterUm) ** 2 +
      4 * (y * y + z * z) * noise.centreUm ** 2 +
      4 * (cos2 * cos2 + sin2 * sin2) * noise.ovalUm ** 2;
  return Math.sqrt(variance);
}

/**
 * Uncertainty of the functional size by Monte Carlo (GUM Supplement 1): every section's size, place and oval get their errors,
 * and the largest bar is found anew.
 *
 * @param sections - as for `functionalSize`, by harmonics
 * @param options.noise - standard uncertainties, µm
 * @param options.draws - number of draws, >= 100
 * @param options.generator - seeded
 * @returns mean and standard uncertainty of the diameter, µm about the functional size, or no answer where there is no size
 * @throws CoreError too-few-values, not-finite, out-of-range; those of `functionalSize`
 * Accuracy: each draw within 0.2 µm of `functionalSize` computed anew (tests/core/metrology)
 * Source: JCGM 101:2008
 */
export function functionalSizeUncertainty(
  sections: readonly HarmonicSection[],
  options: { readonly noise: SectionNoise; readonly draws: number; readonly generator: SeededGenerator },
): Estimate<DrawnFeature> {
  const { noise, draws, generator } = options;
  if (!(draws >= 100))
    throw new CoreError("too-few-values", `functionalSizeUncertainty: draws must be at least 100; got ${draws}`, {
      draws,
    });
  for (const [name, value] of Object.entries(noise)) {
    if (!Number.isFinite(value))
      throw new CoreError("not-finite", `functionalSizeUncertainty: ${name} must be finite; got ${value}`);
    if (value < 0) throw new CoreError("out-of-range", `functionalSizeUncertainty: ${name} must be >= 0; got ${value}`);
  }
  const prepared = drawableSeats(sections);
  if (!prepared.ok) return prepared;
  const seats = prepared.value;
  const scratch = new Float64Array(seats.count);
  const values = new Float64Array(draws);
  const n = seats.sections;
  const errors: SectionErrors = {
    radius: new Float64Array(n),
    y: new Float64Array(n),
    z: new Float64Array(n),
    cos2: new Float64Array(n),
    sin2: new Float64Array(n),
  };
  for (let draw = 0; draw < draws; draw++) {
    const common = noise.commonDiameterUm * generator.normal();
    for (let at = 0; at < n; at++) {
      errors.radius[at] = (common + noise.diameterUm * generator.normal()) / 2000;
      errors.y[at] = (noise.centreUm * generator.normal()) / 1000;
      errors.z[at] = (noise.centreUm * generator.normal()) / 1000;
      errors.cos2[at] = (noise.ovalUm * generator.normal()) / 1000;
      errors.sin2[at] = (noise.ovalUm * generator.normal()) / 1000;
    }
    values[draw] = (drawnDiameterMm(seats, errors, scratch) - 2 * seats.radiusMm) * 1000;
  }
  return { ok: true, value: summariseDraws(values), warnings: [] };
}
