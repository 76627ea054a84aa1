import "server-only";

/** Texts that the room shipments says to people, by the file that says them. */
export const SHIPMENTS_WORDS = {
  shipFrame: {
    keyWasUsedForFrame: (id: string, serial: string) =>
      `The key ${id} was used for frame ${serial}. Scan again: each scan has a key of its own.`,
  },
};
