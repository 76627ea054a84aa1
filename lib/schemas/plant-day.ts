import { zoneOffsetMs } from "./zone-offset";

const DAY_MS = 86_400_000;

/**
 * The moment at which the plant's clock shows something. Where the clocks jump over it, it is the jump; where they show it
 * twice, the first time.
 *
 * @param shown - "2026-06-05T14:30", with or without seconds
 * @param zone - IANA time zone of the plant
 */
export function plantMoment(shown: string, zone: string): Date {
  const asUtc = Date.parse(`${shown}Z`);
  const candidates = [-DAY_MS, DAY_MS].map((aside) => asUtc - zoneOffsetMs(zone, asUtc + aside));
  const exact = candidates.filter((time) => time + zoneOffsetMs(zone, time) === asUtc);
  return new Date(exact.length > 0 ? Math.min(...exact) : Math.max(...candidates));
}

/** A moment as the plant's clock shows it, to the second: "2026-06-05T14:30:00". */
export function shownMoment(at: Date, zone: string): string {
  return new Date(at.getTime() + zoneOffsetMs(zone, at.getTime())).toISOString().slice(0, 19);
}

/**
 * The moment at which a day begins by the plant's clock. Where the clocks jump over midnight it is the jump.
 *
 * @param day - "2026-06-05"
 * @param zone - IANA time zone of the plant
 */
export function plantDayStart(day: string, zone: string): Date {
  return plantMoment(`${day}T00:00:00`, zone);
}

/** The last millisecond of a day by the plant's clock. */
export function plantDayEnd(day: string, zone: string): Date {
  const next = new Date(Date.parse(`${day}T00:00:00Z`) + DAY_MS).toISOString().slice(0, 10);
  return new Date(plantDayStart(next, zone).getTime() - 1);
}
