const DAY_MS = 86_400_000;

/** By how much the clock of the zone is ahead of UTC at this moment, ms. */
function offsetMs(time: number, zone: string): number {
  const parts = new Intl.DateTimeFormat("en-GB", {
    timeZone: zone,
    hourCycle: "h23",
    year: "numeric",
    month: "2-digit",
    day: "2-digit",
    hour: "2-digit",
    minute: "2-digit",
    second: "2-digit",
  }).formatToParts(time);
  const part = (type: string) => Number(parts.find((one) => one.type === type)?.value ?? 0);
  const shown = Date.UTC(part("year"), part("month") - 1, part("day"), part("hour"), part("minute"), part("second"));
  return shown - Math.floor(time / 1000) * 1000;
}

/**
 * The moment at which a day begins by the plant's clock. Where the clocks jump over midnight it is the jump.
 *
 * @param day - "2026-06-05"
 * @param zone - IANA time zone of the plant
 */
export function plantDayStart(day: string, zone: string): Date {
  const midnight = Date.parse(`${day}T00:00:00Z`);
  const candidates = [-DAY_MS, DAY_MS].map((aside) => midnight - offsetMs(midnight + aside, zone));
  const exact = candidates.find((time) => time + offsetMs(time, zone) === midnight);
  return new Date(exact ?? Math.max(...candidates));
}

/** The last millisecond of a day by the plant's clock. */
export function plantDayEnd(day: string, zone: string): Date {
  const next = new Date(Date.parse(`${day}T00:00:00Z`) + DAY_MS).toISOString().slice(0, 10);
  return new Date(plantDayStart(next, zone).getTime() - 1);
}
