const MINUTES_A_DAY = 24 * 60;
const MINUTE_MS = 60_000;

function clockMinutes(time: Date, zone: string): { readonly minutes: number; readonly restMs: number } {
  const parts = new Intl.DateTimeFormat("en-GB", {
    timeZone: zone,
    hour: "2-digit",
    minute: "2-digit",
    hourCycle: "h23",
  }).formatToParts(time);
  const number = (type: string) => Number(parts.find((part) => part.type === type)?.value ?? 0);
  return { minutes: number("hour") * 60 + number("minute"), restMs: time.getTime() % MINUTE_MS };
}

/**
 * When the shift that runs at `now` began, by the plant's clock. On the day the clocks change it may be an hour off the wall.
 *
 * @param starts - times of day such as "06:00", at least one
 * @param zone - IANA time zone of the plant
 */
export function latestShiftStart(now: Date, starts: readonly string[], zone: string): Date {
  const { minutes, restMs } = clockMinutes(now, zone);
  const since = starts.map((start) => {
    const [hour = 0, minute = 0] = start.split(":").map(Number);
    return (minutes - (hour * 60 + minute) + MINUTES_A_DAY) % MINUTES_A_DAY;
  });
  return new Date(now.getTime() - Math.min(...since) * MINUTE_MS - restMs);
}
