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

/** Longest that long work stands back before a slice, ms: however many record single frames, it goes on. */
const PATIENCE_MS = 25;

const standingBack = new Set<() => void>();
let hurried = 0;

/** Work that somebody at a station waits for: while it is under way, long work stands back. */
export async function hurry<T>(work: () => Promise<T>): Promise<T> {
  hurried += 1;
  try {
    return await work();
  } finally {
    hurried -= 1;
    if (hurried === 0) for (const goOn of [...standingBack]) goOn();
  }
}

/** Whether somebody at a station waits for something. */
export const isHurried = (): boolean => hurried > 0;

/** Comes back when nobody at a station waits any more, or after a while. */
export function standBack(): Promise<void> {
  if (hurried === 0) return Promise.resolve();
  return new Promise((resolve) => {
    const goOn = () => {
      clearTimeout(timer);
      standingBack.delete(goOn);
      resolve();
    };
    const timer = setTimeout(goOn, PATIENCE_MS);
    standingBack.add(goOn);
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
 * @param holdsLock - true where somebody at a station may wait for this work itself: then it does not stand back
 * @example for (const one of many) { if (slices.isOver()) await slices.next(); work(one); }
 */
export function inSlices({ holdsLock = false } = {}): Slices {
  let from = performance.now();
  begun += 1;
  const began = begun;
  return {
    isOver: () => performance.now() - from > SLICE_MS,
    next: async () => {
      if (!holdsLock) await standBack();
      await takeTurn(began);
      from = performance.now();
    },
  };
}
