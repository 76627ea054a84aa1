import "server-only";

/** Texts that the room frames says to people, by the file that says them. */
export const FRAMES_WORDS = {
  queries: {
    noFrameHasSerial: (serial: string) => `No frame has the serial ${serial}. Check it, or search for its batch.`,
  },
};
