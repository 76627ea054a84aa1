import "server-only";

export const EVENT_ERRORS = {
  nothingEntered: "Nothing was entered.",
  otherUnderThisKey:
    "An event was entered under this key before, with other words. Nothing was changed; look at the list of events, then enter it anew.",
  noSuchEvent: "There is no such event. Nothing was changed; look at the list of events again.",
  noSuchLine: (key: string) => `There is no line ${key}. Nothing was entered; check the key of the line.`,
  ofItself: "An event cannot stand in its own place. Nothing was changed; give the corrected event a key of its own.",
  placeIsTaken:
    "The event that would stand in its place was entered before, by itself. Nothing was changed; give the corrected event a key of its own.",
  otherLine: (key: string) =>
    `The event that was wrong is not of line ${key}, and what stands in its place stays on its line. Nothing was entered; say that nothing was done there, and enter it anew on line ${key}.`,
  correctedBefore: (moment: string) =>
    `This event was corrected before, at ${moment}. Nothing was changed; look at the list of events, and correct the one that stands now.`,
} as const;
