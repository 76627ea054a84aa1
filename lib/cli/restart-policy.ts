const HOUR_MS = 3_600_000;
const FIRST_WAIT_MS = 500;
const LONGEST_WAIT_MS = 60_000;
const ENDS_AN_HOUR = 20;

/**
 * How long to wait before something that ended by itself is started again: each end of the last hour doubles the wait, up to a
 * minute. Common practice, no source.
 *
 * @returns asked at each end with the time, ms since 1970: the wait in ms, or null after twenty ends within an hour
 */
export function restartPolicy(): (nowMs: number) => number | null {
  let ends: number[] = [];
  return (nowMs) => {
    ends = [...ends.filter((at) => nowMs - at < HOUR_MS), nowMs];
    if (ends.length > ENDS_AN_HOUR) return null;
    return Math.min(LONGEST_WAIT_MS, FIRST_WAIT_MS * 2 ** (ends.length - 1));
  };
}

/** What is kept running and how. */
export type Kept = {
  /** "The web server", at the beginning of a sentence. */
  readonly name: string;
  readonly start: () => Promise<void>;
  readonly isEnding: () => boolean;
  readonly warn: (text: string) => void;
  readonly fail: (error: unknown) => void;
  readonly sleep: (ms: number) => Promise<unknown>;
  readonly now: () => number;
};

/**
 * Starts something again that ended by itself, until it is there; a start that fails counts as another end.
 *
 * @returns to be called at each end
 */
export function keepStarted({ name, start, isEnding, warn, fail, sleep, now }: Kept): () => Promise<void> {
  const waitAfter = restartPolicy();
  return async () => {
    for (let why = ""; !isEnding();) {
      const waitMs = waitAfter(now());
      if (waitMs === null) return fail(new Error(`${name} ended ${ENDS_AN_HOUR + 1} times within an hour.${why}`));
      const when = waitMs < 2_000 ? "" : ` in ${Math.round(waitMs / 1000)} s`;
      warn(`${name} ended by itself and is started again${when}; what was recorded is kept.${why}`);
      await sleep(waitMs);
      if (isEnding()) return;
      try {
        return await start();
      } catch (error) {
        why = ` The last start failed: ${error instanceof Error ? error.message : String(error)}`;
      }
    }
  };
}
