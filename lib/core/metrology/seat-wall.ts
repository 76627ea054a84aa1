import type { PlanePoint } from "./plane-point";
import type { HarmonicSection } from "./seat-section";

/** A wall point of section `at`, or for a round section the direction in which its wall is touched. */
export type Cut = { readonly at: number; readonly y: number; readonly z: number; readonly direction: boolean };

/** A section prepared for the search: t in [-1, 1] along the shell, y and z about the start axis at that place. */
export type PlacedWall = {
  readonly t: number;
  readonly startY: number;
  readonly startZ: number;
  readonly wall: WallByHarmonics | null;
  readonly points: readonly PlanePoint[];
};

export type WallByHarmonics = {
  readonly centre: PlanePoint;
  readonly section: HarmonicSection;
  readonly round: boolean;
  /** Wall points about the centre at even directions: y, z, y, z ... */
  readonly grid: Float64Array;
  /** Room for a number of each wall point of the grid. */
  readonly room: Float64Array;
};

export function wallCut(wall: WallByHarmonics, at: number, phi: number): Cut {
  const r = wallRadiusMm(wall.section, phi);
  return { at, y: wall.centre.y + r * Math.cos(phi), z: wall.centre.z + r * Math.sin(phi), direction: false };
}

/** Distance of a section's wall nearest to (side +1) or farthest from (side -1) an axis point, and the cuts where it touches. */
export function extremeWall(
  p: PlacedWall,
  at: number,
  axis: PlanePoint,
  side: 1 | -1,
): { distance: number; cuts: readonly Cut[] } {
  if (p.wall === null) {
    let best = side > 0 ? Infinity : 0;
    for (const { y, z } of p.points) {
      const d = (y - axis.y) ** 2 + (z - axis.z) ** 2;
      if (side > 0 ? d < best : d > best) best = d;
    }
    return { distance: Math.sqrt(best), cuts: [] };
  }
  const { centre, section, round } = p.wall;
  if (round) {
    const ey = axis.y - centre.y;
    const ez = axis.z - centre.z;
    const e = Math.hypot(ey, ez);
    const cuts = e > 0 ? [{ at, y: (side * ey) / e, z: (side * ez) / e, direction: true }] : [];
    return { distance: section.radiusMm - side * e, cuts };
  }
  let distance = side > 0 ? Infinity : 0;
  const cuts = extremeDirections(p.wall, axis, side).map((phi) => wallCut(p.wall!, at, phi));
  for (const { y, z } of cuts) {
    const d = Math.sqrt((y - axis.y) ** 2 + (z - axis.z) ** 2);
    distance = side > 0 ? Math.min(distance, d) : Math.max(distance, d);
  }
  return { distance, cuts };
}

/** Radius of the wall and its first and second derivative by the direction. */
function wallRadius(section: HarmonicSection, phi: number): { r: number; r1: number; r2: number } {
  let r = section.radiusMm;
  let r1 = 0;
  let r2 = 0;
  const { harmonics } = section;
  for (let i = 0; i < harmonics.length; i++) {
    const { order, amplitudeMm, phaseDeg } = harmonics[i]!;
    const angle = order * (phi - (phaseDeg * Math.PI) / 180);
    const along = amplitudeMm * Math.cos(angle);
    r += along;
    r1 -= order * amplitudeMm * Math.sin(angle);
    r2 -= order * order * along;
  }
  return { r, r1, r2 };
}

const grids = new WeakMap<HarmonicSection, Float64Array>();

/** Wall points of a section about its centre; kept with the section, since bar and ream ask for the same. */
export function wallGrid(section: HarmonicSection): Float64Array {
  const known = grids.get(section);
  if (known !== undefined) return known;
  const steps = 8 * Math.max(2, ...section.harmonics.map((h) => h.order));
  const grid = new Float64Array(2 * steps);
  for (let i = 0; i < steps; i++) {
    const phi = (i * 2 * Math.PI) / steps;
    const r = wallRadiusMm(section, phi);
    grid[2 * i] = r * Math.cos(phi);
    grid[2 * i + 1] = r * Math.sin(phi);
  }
  grids.set(section, grid);
  return grid;
}

/**
 * Directions of the wall points nearest to (or farthest from) an axis: every valley of the grid that can be the deepest, by
 * Newton kept between its neighbours.
 */
function extremeDirections(wall: WallByHarmonics, axis: PlanePoint, side: 1 | -1): number[] {
  const { grid, room: values } = wall;
  const ey = wall.centre.y - axis.y;
  const ez = wall.centre.z - axis.z;
  const steps = grid.length / 2;
  const width = (2 * Math.PI) / steps;
  let best = Infinity;
  for (let i = 0; i < steps; i++) {
    const dy = grid[2 * i]! + ey;
    const dz = grid[2 * i + 1]! + ez;
    const value = side * (dy * dy + dz * dz);
    values[i] = value;
    if (value < best) best = value;
  }
  const directions: number[] = [];
  let before = values[steps - 1]!;
  for (let i = 0; i < steps; i++) {
    const value = values[i]!;
    const after = values[i + 1 < steps ? i + 1 : 0]!;
    const sag = Math.max(before, after) - value;
    if (value <= before && value < after && value - sag <= best)
      directions.push(refineDirection(wall, axis, side, i * width, width));
    before = value;
  }
  return directions;
}

function refineDirection(wall: WallByHarmonics, axis: PlanePoint, side: 1 | -1, start: number, width: number): number {
  const ey = wall.centre.y - axis.y;
  const ez = wall.centre.z - axis.z;
  let phi = start;
  let from = start - width;
  let to = start + width;
  for (let i = 0; i < 60 && to - from > 1e-14; i++) {
    const { r, r1, r2 } = wallRadius(wall.section, phi);
    const cos = Math.cos(phi);
    const sin = Math.sin(phi);
    const along = ey * cos + ez * sin;
    const across = ez * cos - ey * sin;
    // First and second derivative of half the square of the distance of the wall from the axis.
    const f1 = r * r1 + r1 * along + r * across;
    const f2 = r1 * r1 + r * r2 + r2 * along + 2 * r1 * across - r * along;
    if (side * f1 > 0) to = phi;
    else from = phi;
    const newton = phi - f1 / f2;
    const next = newton > from && newton < to ? newton : (from + to) / 2;
    if (Math.abs(next - phi) < 1e-12) return next;
    phi = next;
  }
  return phi;
}

/** Radius of a section's wall in a direction about its centre, mm; `phi` rad from 12 o'clock. */
export function wallRadiusMm({ radiusMm, harmonics }: HarmonicSection, phi: number): number {
  let r = radiusMm;
  for (let i = 0; i < harmonics.length; i++) {
    const { order, amplitudeMm, phaseDeg } = harmonics[i]!;
    r += amplitudeMm * Math.cos(order * (phi - (phaseDeg * Math.PI) / 180));
  }
  return r;
}
