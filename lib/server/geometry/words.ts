import "server-only";

/** Texts that the room geometry says to people, by the file that says them. */
export const GEOMETRY_WORDS = {
  answerGeometry: {
    isNoDemonstrationDrawing:
      "There is no demonstration drawing of this key. Send a whole drawing, or press-fit-41, -42 or -46.",
    mustBePressFit41: "must be press-fit-41, press-fit-42, press-fit-46 or a whole drawing",
    nothingWasAsked: "Nothing was asked: give at least one reading, plug or bar.",
    mustHaveAtLeast: "must have at least one reading, or plugs or bars beside",
    nothingWasComputed: (nameProblem: string) => `${nameProblem}. Nothing was computed.`,
  },
};
