import { zoneOffsetMs } from "./zone-offset";

const DAY_MS = 86_400_000;

/**
 * The moment at which a day begins by the plant's clock. Where the clocks jump over midnight it is the jump.
 *
 * @param day - "2026-06-05"
 * @param zone - IANA time zone of the plant
 */
export function plantDayStart(day: string, zone: string): Date {
  const midnight = Date.parse(`${day}T00:00:00Z`);
  const candidates = [-DAY_MS, DAY_MS].map((aside) => midnight - zoneOffsetMs(zone, midnight + aside));
  const exact = candidates.find((time) => time + zoneOffsetMs(zone, time) === midnight);
  return new Date(exact ?? Math.max(...candidates));
}

/** The last millisecond of a day by the plant's clock. */
export function plantDayEnd(day: string, zone: string): Date {
  const next = new Date(Date.parse(`${day}T00:00:00Z`) + DAY_MS).toISOString().slice(0, 10);
  return new Date(plantDayStart(next, zone).getTime() - 1);
}
