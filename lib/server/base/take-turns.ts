import "server-only";

/** Longest slice of work after which others get their turn, ms. */
const SLICE_MS = 5;

type Waiting = { readonly began: number; readonly goOn: () => void };

/** Those whose work began first stand first. */
const waiting: Waiting[] = [];
let begun = 0;

function letNextGoOn(): void {
  waiting.shift()?.goOn();
  if (waiting.length > 0) setImmediate(letNextGoOn);
}

/**
 * Of all who wait, one goes on in each round of the event loop: what database and network answer comes through in between. It is
 * the one whose work began first, so that the database has that work while the next one's is done here.
 */
function takeTurn(began: number): Promise<void> {
  return new Promise((resolve) => {
    const place = waiting.findIndex((other) => other.began > began);
    waiting.splice(place < 0 ? waiting.length : place, 0, { began, goOn: resolve });
    if (waiting.length === 1) setImmediate(letNextGoOn);
  });
}

export type Slices = {
  /** Whether the slice under way has taken long enough. */
  readonly isOver: () => boolean;
  /** Waits for a turn, and begins the next slice. */
  readonly next: () => Promise<void>;
};

/**
 * Long work in slices of a few milliseconds: however much is sent at once, and by however many, who records one frame waits for
 * a slice and not for all of it.
 *
 * @example for (const one of many) { if (slices.isOver()) await slices.next(); work(one); }
 */
export function inSlices(): Slices {
  let from = performance.now();
  begun += 1;
  const began = begun;
  return {
    isOver: () => performance.now() - from > SLICE_MS,
    next: async () => {
      await takeTurn(began);
      from = performance.now();
    },
  };
}
