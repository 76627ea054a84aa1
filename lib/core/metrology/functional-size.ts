import type { Estimate } from "../errors";
import { solveLinearProgramme } from "../numerics/linear-programme";
import { clockOf, type PlanePoint } from "./plane-point";
import type { Seat } from "./reading-name";
import { largestGap } from "./section-distances";
import { assertSeatSections, type HarmonicSection, type SeatSection } from "./seat-section";
import { type Cut, extremeWall, type PlacedWall, wallCut, wallGrid } from "./seat-wall";

/** Where a cylinder touches a seat; `clockDeg` from the cylinder's axis, degrees clockwise from 12 seen from the drive side. */
export type CylinderContact = {
  readonly seat: Seat;
  readonly depthMm: number;
  readonly clockDeg: number;
  /** Share of this contact in holding the cylinder; the shares of all contacts add up to 1. */
  readonly share: number;
};

/** A cylinder through both seats on one axis: position at x = 0 and slope per mm of x, both (y, z). */
export type PairCylinder = {
  readonly diameterMm: number;
  readonly axisAtZero: PlanePoint;
  readonly slope: PlanePoint;
  /** Tilt of the cylinder's axis to the x axis. */
  readonly tiltArcmin: number;
  readonly contacts: readonly CylinderContact[];
};

const ARCMIN_PER_RAD = 10800 / Math.PI;
/** Agreement of the linear bound and the true radius at which the search ends, as part of the radius. */
const AGREEMENT = 5e-12;
/** The same for measured walls, where a local optimum may differ by more than this anyway. */
const MEASURED_AGREEMENT = 1e-9;
const MAX_ROUNDS = 300;
/** First limit of a step, as a multiple of the wall's spread about the start axis. */
const FIRST_TRUST = 2;
/** Wall directions to start from, per section. */
const START_DIRECTIONS = 8;
/** A contact that carries less than this is a wall point that only happens to be near. */
const LEAST_SHARE = 1e-6;

/**
 * Functional size of a pair of seats: the largest cylinder inside both seats on one free axis.
 * Formula: max R over axes c(x) with |p - c(x)| >= R for every wall point p of every section.
 *
 * @param sections - SeatSection[], at least one of each seat at different places, mm, one system of coordinates
 * @returns diameter, axis, contacts by the clock, or no answer where a section's centre is unknown, its lobes reach half
 *   its radius, or no one axis passes through both seats
 * @throws CoreError too-few-values, not-finite, duplicate, out-of-range, degenerate
 * Method: sequence of linear programmes; wall points at the true contact are added until the linear and the true radius agree.
 * Sections are taken across the x axis: for tilts below 5' the cylinder's own ellipse changes the diameter by less than 0.1 µm.
 * Accuracy: 1e-9 mm for round seats (convex, so the optimum is global); for measured points the wall's curvature leaves local
 * optima within the square of the form over the diameter (form 0.02: 0.00001 mm). Only the given sections count: a seat is not
 * extended to its edges.
 * Source: the idea of ISO 14405-1 maximum inscribed size, on two seats; numbers of tests/reference/functional-size.json
 */
export function functionalSize(sections: readonly SeatSection[]): Estimate<PairCylinder> {
  assertSeatSections(sections, "functionalSize");
  return fitCylinder(sections, 1);
}

/**
 * Smallest line-ream: the smallest cylinder on one free axis that takes in the whole wall of both seats, so that reaming to it
 * cleans both.
 * Formula: min R over axes c(x) with |p - c(x)| <= R for every wall point p of every section.
 *
 * @param sections, @returns, @throws, Method - as `functionalSize`; convex for every kind of section, so the optimum is global
 */
export function smallestReam(sections: readonly SeatSection[]): Estimate<PairCylinder> {
  assertSeatSections(sections, "smallestReam");
  return fitCylinder(sections, -1);
}

type Axis = { ay: number; az: number; by: number; bz: number };

/** `side` +1: inside the seats, as large as possible; -1: around the seats, as small as possible. */
function fitCylinder(sections: readonly SeatSection[], side: 1 | -1): Estimate<PairCylinder> {
  const centres: PlanePoint[] = [];
  for (const section of sections) {
    const centre = section.shape === "harmonic" ? section.centre : middleOf(section.points);
    if (centre === null)
      return { ok: false, reason: "the centres of the sections are not known: diameters alone do not place the seats" };
    if (section.shape === "harmonic" && lobesOf(section) >= section.radiusMm / 2)
      return { ok: false, reason: "the lobes of a section reach half its radius: a reading must be wrong" };
    if (section.shape === "points" && !goesAround(section.points, centre))
      return { ok: false, reason: "the points of a section do not go around it" };
    centres.push(centre);
  }
  const low = Math.min(...sections.map((s) => s.xMm));
  const high = Math.max(...sections.map((s) => s.xMm));
  const middle = (low + high) / 2;
  const half = (high - low) / 2;
  const start = lineThrough(
    sections.map((s) => (s.xMm - middle) / half),
    centres,
  );
  const prepared = sections.map((section, i): PlacedWall => {
    const t = (section.xMm - middle) / half;
    const startY = start.ay + t * start.by;
    const startZ = start.az + t * start.bz;
    const shifted = (p: PlanePoint) => ({ y: p.y - startY, z: p.z - startZ });
    if (section.shape === "points") return { t, startY, startZ, wall: null, points: section.points.map(shifted) };
    const round = section.harmonics.length === 0;
    const grid = round ? new Float64Array(0) : wallGrid(section);
    const wall = { centre: shifted(centres[i]!), section, round, grid, room: new Float64Array(grid.length / 2) };
    return { t, startY, startZ, wall, points: [] };
  });
  const radius0 = typicalRadius(prepared);
  const cuts: Cut[] = prepared.flatMap((p, at) => startCuts(p, at));
  const allRound = prepared.every((p) => p.wall?.round === true);
  const agreement = (allRound ? AGREEMENT : MEASURED_AGREEMENT) * radius0;
  let axis: Axis = { ay: 0, az: 0, by: 0, bz: 0 };
  const first = judgeAxis(prepared, axis, side);
  let radius = first.radius;
  cuts.push(...first.found);
  let trust = Math.max(FIRST_TRUST * Math.abs(judgeAxis(prepared, axis, side > 0 ? -1 : 1).radius - radius), agreement);
  let startBasis: readonly number[] | undefined;
  let gainBefore = Infinity;
  const table: CutTable = { axis: null, count: 0, rows: new Float64Array(0), limits: new Float64Array(0) };

  for (let round = 0; round < MAX_ROUNDS; round++) {
    const solved = solveRound(prepared, cuts, axis, { side, radius0, trust, startBasis, table });
    if (!solved.ok) return { ok: false, reason: solved.reason };
    const { x, active, atBound, basis } = solved.value;
    startBasis = basis;
    const gain = side * (radius0 + x[4]! - radius);
    if (gain <= agreement) {
      const carrying = active.filter((a) => a.multiplier > LEAST_SHARE);
      const shares = carrying.map((a) => ({ cut: cuts[a.row]!, share: a.multiplier }));
      const contacts = gatherContacts(sections, prepared, { axis, radius, side }, shares);
      const total: Axis = {
        ay: start.ay + axis.ay,
        az: start.az + axis.az,
        by: start.by + axis.by,
        bz: start.bz + axis.bz,
      };
      return { ok: true, value: { diameterMm: 2 * radius, ...placeAxis(total, middle, half), contacts }, warnings: [] };
    }
    const next: Axis = { ay: axis.ay + x[0]!, az: axis.az + x[1]!, by: axis.by + x[2]!, bz: axis.bz + x[3]! };
    const judged = judgeAxis(prepared, next, side);
    cuts.push(...judged.found);
    const reached = side * (judged.radius - radius);
    if (reached > 0) {
      radius = judged.radius;
      axis = next;
    }
    // Where cuts were added the programme itself becomes truer, until they are the ones that it had. Else, as with fixed points,
    // the step has to be shorter: the wall bends away with its square, so the best step follows from what this one reached.
    const isStalled = judged.found.length === 0 || (reached <= 0 && gain === gainBefore);
    gainBefore = gain;
    if (reached >= gain / 4) trust *= atBound ? 4 : 1;
    else if (isStalled)
      trust = Math.min(trust, largestOf(x)) * Math.min(0.5, Math.max(0.05, gain / (2 * (gain - reached))));
    if (trust > radius0) return { ok: false, reason: "no single axis passes through both seats" };
  }
  return { ok: false, reason: "not-converged" };
}

function lobesOf({ harmonics }: HarmonicSection): number {
  return harmonics.reduce((sum, { amplitudeMm }) => sum + Math.abs(amplitudeMm), 0);
}

function largestOf(x: readonly number[]): number {
  return Math.max(Math.abs(x[0]!), Math.abs(x[1]!), Math.abs(x[2]!), Math.abs(x[3]!));
}

function placeAxis(axis: Axis, middle: number, half: number) {
  const slope = { y: axis.by / half, z: axis.bz / half };
  return {
    axisAtZero: { y: axis.ay - middle * slope.y, z: axis.az - middle * slope.z },
    slope,
    tiltArcmin: Math.atan(Math.hypot(slope.y, slope.z)) * ARCMIN_PER_RAD,
  };
}

/** Radius of the cylinder about an axis, and the cuts where it touches. */
function judgeAxis(prepared: readonly PlacedWall[], axis: Axis, side: 1 | -1): { radius: number; found: Cut[] } {
  let radius = side > 0 ? Infinity : 0;
  const found: Cut[] = [];
  prepared.forEach((p, at) => {
    const touch = extremeWall(p, at, { y: axis.ay + p.t * axis.by, z: axis.az + p.t * axis.bz }, side);
    radius = side > 0 ? Math.min(radius, touch.distance) : Math.max(radius, touch.distance);
    found.push(...touch.cuts);
  });
  return { radius, found };
}

function middleOf(points: readonly PlanePoint[]): PlanePoint {
  let y = 0;
  let z = 0;
  for (const p of points) {
    y += p.y / points.length;
    z += p.z / points.length;
  }
  return { y, z };
}

function goesAround(points: readonly PlanePoint[], centre: PlanePoint): boolean {
  return largestGap(points.map((p) => Math.atan2(p.z - centre.z, p.y - centre.y))) < Math.PI;
}

/** Least squares line through the sections' centres: the axis that the search starts from. */
function lineThrough(t: readonly number[], centres: readonly PlanePoint[]): Axis {
  const n = t.length;
  const meanT = t.reduce((sum, v) => sum + v / n, 0);
  const mean = middleOf(centres);
  let tt = 0;
  let ty = 0;
  let tz = 0;
  t.forEach((v, i) => {
    tt += (v - meanT) ** 2;
    ty += (v - meanT) * (centres[i]!.y - mean.y);
    tz += (v - meanT) * (centres[i]!.z - mean.z);
  });
  const by = ty / tt;
  const bz = tz / tt;
  return { ay: mean.y - by * meanT, az: mean.z - bz * meanT, by, bz };
}

function typicalRadius(prepared: readonly PlacedWall[]): number {
  const radii = prepared.map((p) =>
    p.wall
      ? p.wall.section.radiusMm
      : p.points.reduce((sum, q) => sum + Math.sqrt(q.y * q.y + q.z * q.z), 0) / p.points.length,
  );
  return radii.reduce((sum, r) => sum + r, 0) / radii.length;
}

function startCuts(prepared: PlacedWall, at: number): Cut[] {
  const { wall } = prepared;
  if (wall === null) return prepared.points.map(({ y, z }) => ({ at, y, z, direction: false }));
  const count = START_DIRECTIONS;
  return Array.from({ length: count }, (_, i) => {
    const phi = (i * 2 * Math.PI) / count;
    return wall.round ? { at, y: Math.cos(phi), z: Math.sin(phi), direction: true } : wallCut(wall, at, phi);
  });
}

/** Rows and limits of the cuts of a search about an axis: those of earlier rounds stay as long as the axis does. */
type CutTable = { axis: Axis | null; count: number; rows: Float64Array; limits: Float64Array };

function makeRoom(table: CutTable, count: number): void {
  if (table.limits.length >= count) return;
  const [rows, limits] = [new Float64Array(count * 10), new Float64Array(count * 2)];
  rows.set(table.rows);
  limits.set(table.limits);
  table.rows = rows;
  table.limits = limits;
}

type Round = {
  readonly side: 1 | -1;
  readonly radius0: number;
  readonly trust: number;
  readonly startBasis: readonly number[] | undefined;
  readonly table: CutTable;
};

/**
 * Linear programme in the step (ay, az, by, bz) from the axis and rho, R = radius0 + rho:
 * side * (u . step(t) + rho) <= side * (u . (p - c(t)) - radius0), each unknown of the step within the trust.
 */
function solveRound(
  prepared: readonly PlacedWall[],
  cuts: readonly Cut[],
  axis: Axis,
  { side, radius0, trust, startBasis, table }: Round,
) {
  const count = cuts.length;
  makeRoom(table, count);
  const { rows, limits } = table;
  const known = table.axis === axis ? table.count : 0;
  for (let i = known; i < count; i++) {
    const cut = cuts[i]!;
    const { t, wall } = prepared[cut.at]!;
    const cy = axis.ay + t * axis.by;
    const cz = axis.az + t * axis.bz;
    let uy = cut.y;
    let uz = cut.z;
    let reach: number;
    if (cut.direction && wall !== null)
      reach = uy * (wall.centre.y - cy) + uz * (wall.centre.z - cz) + wall.section.radiusMm;
    else {
      const dy = cut.y - cy;
      const dz = cut.z - cz;
      reach = Math.sqrt(dy * dy + dz * dz);
      uy = dy / reach;
      uz = dz / reach;
    }
    rows[i * 5] = side * uy;
    rows[i * 5 + 1] = side * uz;
    rows[i * 5 + 2] = side * t * uy;
    rows[i * 5 + 3] = side * t * uz;
    rows[i * 5 + 4] = side;
    limits[i] = side * (reach - radius0);
  }
  table.axis = axis;
  table.count = count;
  return solveLinearProgramme({
    objective: [0, 0, 0, 0, -side],
    rows,
    limits,
    count,
    bounds: [trust, trust, trust, trust, radius0],
    tolerance: 1e-13 * radius0,
    ...(startBasis && { startBasis }),
  });
}

/** Wall points this near to the cylinder touch it, mm: far below what any gauge resolves. */
const TOUCHING_MM = 1e-5;

/**
 * Contacts by section and clock position, heaviest first. Cuts of one section less than 10 degrees apart are one contact; a
 * wall that touches without being needed to hold the cylinder is a contact with share 0.
 */
function gatherContacts(
  sections: readonly SeatSection[],
  prepared: readonly PlacedWall[],
  { axis, radius, side }: { axis: Axis; radius: number; side: 1 | -1 },
  carrying: readonly { cut: Cut; share: number }[],
): CylinderContact[] {
  const touching = prepared.flatMap((p, at) => {
    const centre = { y: axis.ay + p.t * axis.by, z: axis.az + p.t * axis.bz };
    const { distance, cuts } = extremeWall(p, at, centre, side);
    if (Math.abs(distance - radius) > TOUCHING_MM) return [];
    const reach = (cut: Cut) =>
      cut.direction ? distance : Math.sqrt((cut.y - centre.y) ** 2 + (cut.z - centre.z) ** 2);
    return cuts.filter((cut) => Math.abs(reach(cut) - radius) <= TOUCHING_MM).map((cut) => ({ cut, share: 0 }));
  });
  const contacts: CylinderContact[] = [];
  for (const { cut, share } of [...carrying].sort((a, b) => b.share - a.share).concat(touching)) {
    const { t } = prepared[cut.at]!;
    const { seat, depthMm } = sections[cut.at]!;
    const clockDeg = cut.direction
      ? clockOf(cut)
      : clockOf({ y: cut.y - axis.ay - t * axis.by, z: cut.z - axis.az - t * axis.bz });
    const same = contacts.findIndex(
      (c) => c.seat === seat && c.depthMm === depthMm && Math.abs(((c.clockDeg - clockDeg + 540) % 360) - 180) < 10,
    );
    if (same < 0) contacts.push({ seat, depthMm, clockDeg, share });
    else contacts[same] = { ...contacts[same]!, share: contacts[same]!.share + share };
  }
  return contacts.sort((a, b) => b.share - a.share);
}
