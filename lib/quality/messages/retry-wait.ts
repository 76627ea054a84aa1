const SECOND = 1000;
const MINUTE = 60 * SECOND;
const HOUR = 60 * MINUTE;

/** Waits before each further try, growing; after the last one a person decides (common practice, no source). */
export const WEBHOOK_WAITS_MS: readonly number[] = [
  5 * SECOND,
  30 * SECOND,
  2 * MINUTE,
  10 * MINUTE,
  30 * MINUTE,
  HOUR,
  3 * HOUR,
  6 * HOUR,
  12 * HOUR,
  24 * HOUR,
];
export const MAIL_WAITS_MS: readonly number[] = [MINUTE, 5 * MINUTE, 15 * MINUTE, HOUR, 3 * HOUR, 6 * HOUR, 12 * HOUR];

/**
 * How long to wait after a try that failed.
 *
 * @param tries - how many there were, at least one
 * @param share - from 0 to 1: the wait is put off by up to a fifth of itself, so that many that failed together do not come back together
 * @returns milliseconds; null where there is no further try
 */
export function retryWait(waitsMs: readonly number[], tries: number, share: number): number | null {
  const wait = waitsMs[tries - 1];
  return wait === undefined ? null : Math.round(wait * (1 + share / 5));
}
