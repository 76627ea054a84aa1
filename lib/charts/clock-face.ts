import type { Seat } from "@/lib/core/metrology/reading-name";
import { angleSeenFrom } from "@/lib/format/clock-text";

export type Point = { readonly x: number; readonly y: number };

/** A clock as it is drawn: centre in pixels, and from which side it is seen. */
export type ClockFace = { readonly cx: number; readonly cy: number; readonly side: Seat };

const RADIANS_PER_DEGREE = Math.PI / 180;

/**
 * A point on the clock: x = cx + r sin(a), y = cy - r cos(a), with 12 up and clockwise.
 *
 * @param radius - pixels from the centre
 * @param angleDeg - degrees clockwise from 12 as seen from the drive side, whatever the side of view
 */
export function clockPoint(face: ClockFace, radius: number, angleDeg: number): Point {
  const seen = angleSeenFrom(angleDeg, face.side) * RADIANS_PER_DEGREE;
  return { x: face.cx + radius * Math.sin(seen), y: face.cy - radius * Math.cos(seen) };
}

export type ClockNumeral = Point & { readonly hour: number; readonly quarter: boolean };

/** The twelve numerals, clockwise for whoever looks at the face. */
export function clockNumerals(face: ClockFace, radius: number): readonly ClockNumeral[] {
  return Array.from({ length: 12 }, (_, index) => {
    const hour = index + 1;
    const point = clockPoint({ ...face, side: "ds" }, radius, hour * 30);
    return { ...point, hour, quarter: hour % 3 === 0 };
  });
}

/** Ticks at the twelve positions between two radii, as one path. */
export function clockTicks(face: ClockFace, from: number, to: number): string {
  return clockNumerals(face, from)
    .map(({ hour }) => {
      const inner = clockPoint({ ...face, side: "ds" }, from, hour * 30);
      const outer = clockPoint({ ...face, side: "ds" }, to, hour * 30);
      return `M${px(inner.x)} ${px(inner.y)}L${px(outer.x)} ${px(outer.y)}`;
    })
    .join("");
}

/** A pixel coordinate as it stands in a path: one decimal. */
export function px(value: number): string {
  return String(Math.round(value * 10) / 10);
}

/** A line between two points as a path. */
export function linePath(from: Point, to: Point): string {
  return `M${px(from.x)} ${px(from.y)}L${px(to.x)} ${px(to.y)}`;
}

/** Steps of an enlargement: fine enough that what is to fill a picture fills four fifths of it or more. */
const ENLARGEMENT_STEPS = [1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8];

/**
 * How many times larger a length is drawn: the largest round number, at most 8,000, with which it still fits.
 *
 * @param lengthMm - true length, at least 0
 * @param pxPerMm - scale of the drawing
 * @param roomPx - what it may fill
 * @returns factor >= 1; the largest for a length of 0
 */
export function enlargementFactor(lengthMm: number, pxPerMm: number, roomPx: number): number {
  let factor = 1;
  for (let decade = 1; decade <= 1000; decade *= 10) {
    for (const step of ENLARGEMENT_STEPS) if (lengthMm * pxPerMm * step * decade <= roomPx) factor = step * decade;
  }
  return factor;
}
