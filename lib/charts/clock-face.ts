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

/**
 * How many times larger an offset is drawn: the largest of 1, 2, 3, 5 times a power of ten with which it still fits, at most
 * 5,000, so that the noise of an indicator does not look like an offset.
 *
 * @param lengthMm - true length, at least 0
 * @param pxPerMm - scale of the drawing
 * @param roomPx - longest arrow that fits
 * @returns factor >= 1; 1 for a length of 0
 */
export function enlargementFactor(lengthMm: number, pxPerMm: number, roomPx: number): number {
  const most = lengthMm > 0 ? roomPx / (lengthMm * pxPerMm) : 1;
  let factor = 1;
  for (let decade = 1; decade <= 1000; decade *= 10) {
    for (const step of [1, 2, 3, 5]) if (step * decade <= most) factor = step * decade;
  }
  return factor;
}
