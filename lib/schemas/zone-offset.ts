/** One for each zone: making one takes long. */
const formats = new Map<string, Intl.DateTimeFormat>();

function formatOf(zone: string): Intl.DateTimeFormat {
  const known = formats.get(zone);
  if (known) return known;
  const format = new Intl.DateTimeFormat("en-US", {
    timeZone: zone,
    hourCycle: "h23",
    year: "numeric",
    month: "2-digit",
    day: "2-digit",
    hour: "2-digit",
    minute: "2-digit",
    second: "2-digit",
  });
  formats.set(zone, format);
  return format;
}

/**
 * By how much the clocks of a zone are ahead of UTC at an instant, ms.
 *
 * @param zone - IANA name
 * @throws RangeError where this machine does not know the zone
 */
export function zoneOffsetMs(zone: string, epochMs: number): number {
  const parts: Record<string, number> = {};
  for (const part of formatOf(zone).formatToParts(epochMs)) parts[part.type] = Number(part.value);
  const { year = 0, month = 1, day = 1, hour = 0, minute = 0, second = 0 } = parts;
  return Date.UTC(year, month - 1, day, hour, minute, second) - Math.floor(epochMs / 1000) * 1000;
}
