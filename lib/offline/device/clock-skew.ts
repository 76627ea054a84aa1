/** One look at the server's clock: device time before asking and after the answer, and what the server said. */
export type ClockSample = { readonly sentAt: number; readonly answeredAt: number; readonly serverTime: number };

export type ClockSkew = {
  /** Device clock minus server clock, ms. */
  readonly skewMs: number;
  /** Half the time of the way there and back: the skew is known no better, ms. */
  readonly uncertaintyMs: number;
  readonly at: number;
};

/** Clocks are set by their network by less than this. Common practice, no source. */
const SET_BACK_MS = 60_000;

/** The device's clock was set back since its distance was measured, as when its battery was flat: the distance is not known any more. */
export function isSetBack(known: ClockSkew, nowMs: number): boolean {
  return known.at - nowMs > SET_BACK_MS;
}

/** A sample this old no longer counts as better than a new one: clocks drift and are set. */
const FRESH_MS = 10 * 60_000;

/**
 * How far the device's clock is off, from one exchange with the server: the server's time is taken for the middle of it.
 * Source: the offset of RFC 5905 (NTPv4) section 8, with the server's receive and transmit times equal.
 */
export function clockSkew({ sentAt, answeredAt, serverTime }: ClockSample): ClockSkew {
  return {
    skewMs: (sentAt + answeredAt) / 2 - serverTime,
    uncertaintyMs: Math.max(0, (answeredAt - sentAt) / 2),
    at: answeredAt,
  };
}

/** Keeps the better known of two: the one with the shorter way, as long as it is fresh and the two do not contradict. */
export function betterSkew(known: ClockSkew | null, next: ClockSkew): ClockSkew {
  if (known === null || next.at - known.at > FRESH_MS || next.at < known.at) return next;
  const contradict = Math.abs(known.skewMs - next.skewMs) > known.uncertaintyMs + next.uncertaintyMs;
  return contradict || next.uncertaintyMs <= known.uncertaintyMs ? next : known;
}
