import "server-only";
import { formatDay } from "@/lib/format/date-text";
import type { PlantClock } from "@/lib/quality/messages/due-time";
import { plantMoment } from "@/lib/schemas/plant-day";
import { zoneOffsetMs } from "@/lib/schemas/zone-offset";

const MINUTE_MS = 60_000;
const DAY_MS = 86_400_000;
const MINUTES_A_DAY = 1440;

/** "06:30" as minutes of the day. */
export function minutesOf(time: string): number {
  const [hour = 0, minute = 0] = time.split(":").map(Number);
  return hour * 60 + minute;
}

/** Minutes of the day as "06:30". */
export function timeOf(minutes: number): string {
  return [Math.floor(minutes / 60), minutes % 60].map((part) => String(part).padStart(2, "0")).join(":");
}

/** The plant's clock at a moment, for what is decided by it. */
export function plantClock(now: Date, zone: string, shiftStarts: readonly string[]): PlantClock {
  const on = (day: string, minutes: number): number => plantMoment(`${day}T${timeOf(minutes)}`, zone).getTime();
  return {
    nowMs: now.getTime(),
    minutesAt: (ms) => Math.floor((ms + zoneOffsetMs(zone, ms)) / MINUTE_MS) % MINUTES_A_DAY,
    next: (minutes, fromMs) => {
      const today = formatDay(fromMs, { zone });
      const first = on(today, minutes);
      if (first >= fromMs) return first;
      return on(new Date(Date.parse(`${today}T00:00:00Z`) + DAY_MS).toISOString().slice(0, 10), minutes);
    },
    shiftStarts: shiftStarts.map(minutesOf),
  };
}
