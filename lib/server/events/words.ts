import "server-only";

export const EVENT_ERRORS = {
  nothingEntered: "Nothing was entered.",
  otherUnderThisKey:
    "An event was entered under this key before, with other words. Nothing was changed; look at the list of events, then enter it anew.",
  noSuchEvent: "There is no such event. Nothing was changed; look at the list of events again.",
  noSuchLine: (key: string) => `There is no line ${key}. Nothing was entered; check the key of the line.`,
  ofItself: "An event cannot stand in its own place. Nothing was changed; give the corrected event a key of its own.",
  correctedBefore: (moment: string | null) =>
    `This event was corrected before${moment === null ? "" : `, at ${moment}`}. Nothing was changed; look at the list of events, and correct the one that stands now.`,
} as const;
