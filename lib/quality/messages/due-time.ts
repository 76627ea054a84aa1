import type { QuietHours, Subscription } from "./subscription";

/** The plant's clock at a moment. */
export type PlantClock = {
  /** Milliseconds since 1970. */
  readonly nowMs: number;
  /**
   * The first moment from `fromMs` on at which the plant's clock shows a time of day, ms since 1970.
   *
   * @param minutes - of the day, 0 to 1439
   */
  readonly next: (minutes: number, fromMs: number) => number;
  /** Minutes of the day that the plant's clock shows at a moment. */
  readonly minutesAt: (ms: number) => number;
  /** Times of the day at which shifts start, minutes; at least one. */
  readonly shiftStarts: readonly number[];
};

/** Quiet from 22:00 until 6:00 holds over midnight; from and until alike is never quiet. */
function isQuiet(minutes: number, { from, until }: QuietHours): boolean {
  return from <= until ? minutes >= from && minutes < until : minutes >= from || minutes < until;
}

/**
 * When a mail goes by a subscription: now, or with the next shift, and after the quiet hours.
 *
 * @returns milliseconds since 1970
 */
export function dueTime({ timing, quiet }: Pick<Subscription, "timing" | "quiet">, clock: PlantClock): number {
  const { nowMs, next, minutesAt, shiftStarts } = clock;
  const due = timing === "at once" ? nowMs : Math.min(...shiftStarts.map((start) => next(start, nowMs)));
  return quiet !== null && isQuiet(minutesAt(due), quiet) ? next(quiet.until, due) : due;
}
