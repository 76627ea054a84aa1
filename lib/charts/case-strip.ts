import { px } from "./clock-face";

/** Grid of one row; it is stretched to the room there is, dots and lines keep their size. */
export const STRIP = { width: 400, height: 44 } as const;
const MARGIN = 5;

/** One stream: a value a frame, null where it has none; its limits and its means before and since the change. */
export type StripSeries = {
  readonly values: readonly (number | null)[];
  readonly lower: number | null;
  readonly upper: number | null;
  readonly before: number | null;
  readonly since: number | null;
};

/** Where the change began, the range that it may be in, and its last frame, as places on the axis. */
export type StripPlaces = {
  readonly since: number;
  readonly earliest: number;
  readonly latest: number;
  readonly until: number;
};

export type StripRow = {
  /** Dots of the frames before, of those of the case, and outside a limit. */
  readonly before: string;
  readonly since: string;
  readonly outside: string;
  readonly limits: readonly string[];
  /** Means before and since, as lines. */
  readonly levels: string;
};

export type StripLayout = {
  /** Where the change may have begun. */
  readonly band: { readonly x: string; readonly width: string };
  readonly rows: readonly StripRow[];
};

const dots = (points: readonly (readonly [number, number])[]): string =>
  points.map(([x, y]) => `M${px(x)} ${px(y)}h0`).join("");

function rowOf(
  { values, lower, upper, before, since }: StripSeries,
  places: StripPlaces,
  x: (at: number) => number,
): StripRow {
  const known = values.filter((value) => value !== null);
  const [least, most] = [Math.min(...known), Math.max(...known)];
  const spread = most - least || Math.abs(most) || 1;
  // A limit far from the frames would leave them a line.
  const near = [lower, upper].filter((one) => one !== null && one > least - spread && one < most + spread);
  const drawn = [...near.filter((one) => one !== null)];
  const low = Math.min(least, ...drawn);
  const high = Math.max(most, ...drawn);
  const span = high - low || 1;
  const y = (value: number) => STRIP.height - MARGIN - ((value - low) / span) * (STRIP.height - 2 * MARGIN);
  const isBeyond = (value: number) => value > (upper ?? Infinity) || value < (lower ?? -Infinity);
  const points = values.flatMap((value, at) => (value === null ? [] : [{ value, at }]));
  const isOf = (at: number) => at >= places.since && at <= places.until;
  const path = (kept: typeof points) => dots(kept.map(({ value, at }) => [x(at), y(value)] as const));
  const level = (value: number | null, from: number, to: number) =>
    value === null || to <= from ? "" : `M${px(x(from))} ${px(y(value))}H${px(x(to))}`;
  return {
    before: path(points.filter(({ at, value }) => !isOf(at) && !isBeyond(value))),
    since: path(points.filter(({ at, value }) => isOf(at) && !isBeyond(value))),
    outside: path(points.filter(({ value }) => isBeyond(value))),
    limits: drawn.map((one) => `M0 ${px(y(one))}H${STRIP.width}`),
    levels: level(before, 0, places.earliest) + level(since, places.since, places.until),
  };
}

/** The streams of a case under each other on one axis of frames, small: every row its own scale, the change at one place. */
export function layoutCaseStrip(series: readonly StripSeries[], places: StripPlaces, frames: number): StripLayout {
  const step = STRIP.width / Math.max(1, frames);
  const x = (at: number) => (at + 0.5) * step;
  return {
    band: { x: px(places.earliest * step), width: px(Math.max(2, (places.latest - places.earliest + 1) * step)) },
    rows: series.map((one) => rowOf(one, places, x)),
  };
}
