import "server-only";

/** Texts that the room drawings says to people, by the file that says them. */
export const DRAWINGS_WORDS = {
  commands: {
    isDrawingAlready: (drawing: string) =>
      `There is a drawing ${drawing} already. Nothing was changed; revise it, or choose another key.`,
    isTakenAlready: "is taken already",
    revisionIsNoDraftAny: "This revision is no draft any more, or is not known. Nothing was changed.",
    keyOfDrawingStays: "The key of a drawing stays as it is. Nothing was changed.",
    mustStay: (rows: string | undefined) => `must stay ${rows}`,
  },
  queries: {
    isNoSuchDrawingRevision: "There is no such drawing revision. Choose one under Setup.",
  },
};
