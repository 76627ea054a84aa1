import "server-only";

/** One thing that is not as it was written. */
export type JournalFault = {
  readonly chain: string;
  /** Number of the entry in its chain; null where the fault is no entry's. */
  readonly sequence: string | null;
  readonly what: string;
};
