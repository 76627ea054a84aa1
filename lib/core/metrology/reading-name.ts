import type { Estimate } from "../errors";

/** Drive side or non-drive side seat (and face). */
export type Seat = "ds" | "nds";

/** Feel of a plain plug gauge in a seat. */
export type PlugFeel = "slides" | "hand" | "no";

/** Passage of the gauge bar through plug gauges seated in both seats. */
export type BarPassage =
  { readonly result: "free" } | { readonly result: "stiff"; readonly clockDeg: number } | { readonly result: "no" };

/**
 * What one reading is a reading of. Clock positions and angles are degrees clockwise from 12 as seen from the drive side
 * (12 -> 0, 3 -> 90); depths are mm inward from the seat's own face.
 */
export type ReadingName =
  | {
      /** Two-point diameter, mm; `directionDeg` in [0, 180): the diameter through that position and the opposite one. */
      readonly kind: "bore";
      readonly seat: Seat;
      readonly depthMm: number;
      readonly directionDeg: number;
    }
  | {
      /** Indicator sweep of `seat` about the other seat's axis, µm; 360 is the closing reading. */
      readonly kind: "sweep";
      readonly seat: Seat;
      readonly depthMm: number;
      readonly angleDeg: number;
    }
  | {
      /** Axial face sweep about the seat's axis, µm, grows outwards from the shell. */
      readonly kind: "face";
      readonly seat: Seat;
      readonly angleDeg: number;
    }
  | {
      /** Shell width at a clock position, mm. */
      readonly kind: "width";
      readonly clockDeg: number;
    }
  | {
      /** Feel of a plain plug along the seat, or, `across`, of a rod tried in every direction at both ends of the seat. */
      readonly kind: "plug";
      readonly seat: Seat;
      readonly sizeMm: number;
      readonly across?: true;
    }
  | { readonly kind: "bar"; readonly set: string };

export type ReadingKind = ReadingName["kind"];

/** Unit of a reading's value; plug and bar have words instead of a number. */
export const READING_UNIT = {
  bore: "mm",
  sweep: "µm",
  face: "µm",
  width: "mm",
  plug: null,
  bar: null,
} as const satisfies Record<ReadingKind, "mm" | "µm" | null>;

const CLOCK = /^(\d{1,2})(?::(00|30))?$/;
const ACROSS = "@across";
const NUMBER = /^\d+(?:\.\d+)?$/;

/**
 * Clock position as degrees clockwise from 12 seen from the drive side.
 *
 * @param text - "1" to "12", with ":30" allowed
 * @returns degrees in [0, 360), or null where the text is no clock position
 */
export function parseClock(text: string): number | null {
  const match = CLOCK.exec(text);
  if (!match) return null;
  const hour = Number(match[1]);
  if (hour < 1 || hour > 12) return null;
  return (hour % 12) * 30 + (match[2] === "30" ? 15 : 0);
}

/**
 * Clock position nearest to an angle, to the half hour: 45 -> "1:30", 0 -> "12".
 *
 * @param angleDeg - degrees clockwise from 12, any finite number
 */
export function formatClock(angleDeg: number): string {
  const halfHours = ((Math.round(angleDeg / 15) % 24) + 24) % 24;
  const hour = Math.floor(halfHours / 2);
  return `${hour === 0 ? 12 : hour}${halfHours % 2 === 1 ? ":30" : ""}`;
}

function parseNumber(text: string): number | null {
  return NUMBER.test(text) ? Number(text) : null;
}

function refuse(text: string, rule: string): Estimate<ReadingName> {
  return { ok: false, reason: `"${text}": ${rule}` };
}

function accept(value: ReadingName): Estimate<ReadingName> {
  return { ok: true, value, warnings: [] };
}

function parseBore(text: string, seat: Seat, rest: string): Estimate<ReadingName> {
  const [depthText = "", direction = "", extra] = rest.split("@");
  const depthMm = parseNumber(depthText);
  if (depthMm === null || extra !== undefined) return refuse(text, "a bore is named (ds|nds).bore.DEPTH@CLOCK-CLOCK");
  const ends = direction.split("-");
  const from = parseClock(ends[0] ?? "");
  const to = parseClock(ends[1] ?? "");
  if (from === null || to === null || ends.length !== 2)
    return refuse(text, "a direction is two clock positions, as 12-6");
  if ((((to - from) % 360) + 360) % 360 !== 180) return refuse(text, "the two clock positions must be six hours apart");
  return accept({ kind: "bore", seat, depthMm, directionDeg: from % 180 });
}

function parseSweep(text: string, seat: Seat, rest: string): Estimate<ReadingName> {
  const [depthText = "", angleText = "", extra] = rest.split("@");
  const depthMm = parseNumber(depthText);
  const angleDeg = parseNumber(angleText);
  if (depthMm === null || angleDeg === null || extra !== undefined)
    return refuse(text, "a sweep is named (ds|nds).sweep.DEPTH@DEGREES");
  if (angleDeg > 360) return refuse(text, "degrees run from 0 to 360 (360 is the closing reading)");
  return accept({ kind: "sweep", seat, depthMm, angleDeg });
}

/**
 * Reads the name of a reading, as used in measurement files, plans and over HTTP.
 *
 * @param text - e.g. "nds.bore.8@1:30-7:30", "nds.sweep.2@45", "ds.face@90", "width@12", "ds.plug.40.95", "bar.A"
 * @returns the name, or the rule that the text breaks
 */
export function parseReadingName(text: string): Estimate<ReadingName> {
  const width = /^width@(.*)$/.exec(text);
  if (width) {
    const clockDeg = parseClock(width[1] ?? "");
    return clockDeg === null
      ? refuse(text, "a width is named width@CLOCK with a clock position from 1 to 12, :30 allowed")
      : accept({ kind: "width", clockDeg });
  }
  const bar = /^bar\.(.+)$/.exec(text);
  if (bar) return accept({ kind: "bar", set: bar[1] ?? "" });
  const seated = /^(ds|nds)\.(bore|sweep|plug)\.(.*)$/.exec(text) ?? /^(ds|nds)\.(face)@(.*)$/.exec(text);
  if (!seated) return refuse(text, "not the name of a reading");
  const seat = seated[1] as Seat;
  const rest = seated[3] ?? "";
  if (seated[2] === "bore") return parseBore(text, seat, rest);
  if (seated[2] === "sweep") return parseSweep(text, seat, rest);
  if (seated[2] === "plug") {
    const across = rest.endsWith(ACROSS);
    const sizeMm = parseNumber(across ? rest.slice(0, -ACROSS.length) : rest);
    return sizeMm === null
      ? refuse(text, "a plug is named (ds|nds).plug.SIZE, a rod that is tried across (ds|nds).plug.SIZE@across")
      : accept({ kind: "plug", seat, sizeMm, ...(across ? { across } : {}) });
  }
  const angleDeg = parseNumber(rest);
  return angleDeg === null || angleDeg > 360
    ? refuse(text, "a face is named (ds|nds).face@DEGREES, 0 to 360")
    : accept({ kind: "face", seat, angleDeg });
}

/** The one spelling of a reading's name: 6-12 becomes 12-6, 07.0 becomes 7. */
export function formatReadingName(name: ReadingName): string {
  switch (name.kind) {
    case "bore":
      return `${name.seat}.bore.${name.depthMm}@${formatClock(name.directionDeg)}-${formatClock(name.directionDeg + 180)}`;
    case "sweep":
      return `${name.seat}.sweep.${name.depthMm}@${name.angleDeg}`;
    case "face":
      return `${name.seat}.face@${name.angleDeg}`;
    case "width":
      return `width@${formatClock(name.clockDeg)}`;
    case "plug":
      return `${name.seat}.plug.${name.sizeMm}${name.across === true ? ACROSS : ""}`;
    case "bar":
      return `bar.${name.set}`;
  }
}
