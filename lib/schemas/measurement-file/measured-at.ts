import { zoneOffsetMs } from "../zone-offset";
import type { CellResult } from "./cell-values";

/** A point of time, and what had to be assumed to read it. */
export type MeasuredAt = { readonly epochMs: number; readonly assumed: "utc" | "earlier-of-two" | null };

const ISO = /^(\d{4})-(\d{2})-(\d{2})[T ](\d{2}):(\d{2})(?::(\d{2})(?:[.,](\d{1,9}))?)?\s?(Z|[+-]\d{2}(?::?\d{2})?)?$/;
const OFFSET = /^([+-])(\d{2}):?(\d{2})?$/;

const RULE = "measured_at must be a date and time by ISO 8601, as 2026-06-03T08:15:00+02:00";

function refuse(rule: string, hint: string | null = null): CellResult<MeasuredAt> {
  return { ok: false, rule, hint };
}

function offsetMs(text: string): number | null {
  if (text === "Z") return 0;
  const match = OFFSET.exec(text);
  if (!match) return null;
  const hours = Number(match[2]);
  const minutes = Number(match[3] ?? "0");
  if (hours > 14 || minutes > 59) return null;
  return (match[1] === "-" ? -1 : 1) * (hours * 60 + minutes) * 60_000;
}

/** True where the text names a time zone that this machine knows, or a fixed offset. */
export function isTimeZone(zone: string): boolean {
  if (offsetMs(zone) !== null) return true;
  try {
    new Intl.DateTimeFormat("en-US", { timeZone: zone });
    return true;
  } catch (error) {
    if (error instanceof RangeError) return false;
    throw error;
  }
}

/** Every instant that shows this local time in this zone: none in the gap of spring, two in the overlap of autumn. */
function instantsOf(localMs: number, zone: string): number[] {
  const fixed = offsetMs(zone);
  if (fixed !== null) return [localMs - fixed];
  const day = 86_400_000;
  const offsets = new Set([zoneOffsetMs(zone, localMs - day), zoneOffsetMs(zone, localMs + day)]);
  const found: number[] = [];
  for (const offset of offsets) {
    const instant = localMs - offset;
    if (zoneOffsetMs(zone, instant) === offset) found.push(instant);
  }
  return found.sort((a, b) => a - b);
}

/**
 * Reads a time of measurement: ISO 8601 with offset; without one, in the zone given, else as UTC.
 *
 * @param text - the cell
 * @param zone - IANA name or offset, null for none
 * @returns ms since 1970 UTC and what was assumed, or the rule that the cell breaks
 */
export function parseMeasuredAt(text: string, zone: string | null): CellResult<MeasuredAt> {
  const match = ISO.exec(text);
  if (!match) {
    if (/^\d{4}-\d{2}-\d{2}$/.test(text)) return refuse(RULE, "The time of day is missing.");
    if (/^\d{1,2}[./]\d{1,2}[./]\d{2,4}/.test(text)) return refuse(RULE, "Write the year first, then month and day.");
    return refuse(RULE);
  }
  const [year = 0, month = 0, day = 0, hour = 0, minute = 0, second = 0] = match
    .slice(1, 7)
    .map((part) => Number(part ?? 0));
  // Date.UTC takes 0 to 99 for 1900 to 1999.
  if (year < 1900) return refuse("measured_at must lie in the year 1900 or later");
  const fraction = Math.round(Number(`0.${match[7] ?? "0"}`) * 1000);
  const localMs = Date.UTC(year, month - 1, day, hour, minute, second) + fraction;
  const date = new Date(localMs);
  if (date.getUTCMonth() !== month - 1 || date.getUTCDate() !== day || hour > 23 || minute > 59 || second > 59)
    return refuse("measured_at must be a day of the calendar and a time of day");
  const offsetText = match[8];
  if (offsetText !== undefined) {
    const offset = offsetMs(offsetText);
    if (offset === null) return refuse("the offset of measured_at must lie between -14:00 and +14:00");
    return { ok: true, value: { epochMs: localMs - offset, assumed: null } };
  }
  if (zone === null) return { ok: true, value: { epochMs: localMs, assumed: "utc" } };
  const [first, second2] = instantsOf(localMs, zone);
  if (first === undefined)
    return refuse(`measured_at must exist: the clocks of ${zone} skip this time`, "Write the offset with the time.");
  return { ok: true, value: { epochMs: first, assumed: second2 === undefined ? null : "earlier-of-two" } };
}
