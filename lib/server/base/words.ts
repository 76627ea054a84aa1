import "server-only";

/** Texts that the room base says to people, by the file that says them. */
export const BASE_WORDS = {
  moment: {
    timeOfLies: (ofText: string, at: string, where: string, kept: string) =>
      `The time of the ${ofText}, ${at}, lies ${where}. ${kept}`,
    noTime: "no time",
  },
  parseInput: {
    mustBeGiven: "must be given",
    isNotWrittenAsMust: "is not written as it must be",
    mustBeOneOf: (values: string) => `must be one of: ${values}`,
    hasWhatIsNotAsked: (keys: string) => `has what is not asked for: ${keys}`,
    hasNoneOfForms: "has none of the forms that are taken",
    mustNotBeEmpty: "must not be empty",
    mustHaveAtLeastCharacters: (minimum: number | bigint) => `must have at least ${minimum} characters`,
    mustHaveAtLeast: (minimum: number | bigint) => `must have at least ${minimum}`,
    mustBeOver: (minimum: number | bigint) => `must be over ${minimum}`,
    mustBeOrMore: (minimum: number | bigint) => `must be ${minimum} or more`,
    mustHaveAtMostCharacters: (maximum: number | bigint) => `must have at most ${maximum} characters`,
    mustHaveAtMost: (maximum: number | bigint) => `must have at most ${maximum}`,
    mustBeBelow: (maximum: number | bigint) => `must be below ${maximum}`,
    mustBeAtMost: (maximum: number | bigint) => `must be at most ${maximum}`,
    andMore: (count: number) => ` (and ${count} more)`,
    inputIsNotAsMust: (where: string, message: string, more: string) =>
      `The input is not as it must be. ${where}${message}${more}. Nothing was changed.`,
  },
  requestBody: {
    kB: (bytes: number) => `${bytes} kB`,
    bodyIsLargerThan: (inText: string) =>
      `The body is larger than ${inText}. Nothing was kept; send it in smaller parts.`,
    noneWasNamed: "none was named",
    itWas: (contentType: string) => `it was ${contentType}`,
    bodyMustBeApplicationJson: (sent: string) => `The body must be application/json; ${sent}. Nothing was kept.`,
    bodyIsCompressed: (encoding: string) =>
      `The body is compressed (${encoding}), which is not read here. Nothing was kept; send it as it is.`,
    bodyHasMoreThanLists: (mostDepth: number) =>
      `The body has more than ${mostDepth} lists or objects inside one another. Nothing was kept; send it without so many brackets.`,
    objectOfBodyHasMore: (mostNames: number) =>
      `An object of the body has more than ${mostNames} named members. Nothing was kept; send only what is asked for.`,
    listOfBodyHasMore: (mostEntries: number) =>
      `A list of the body has more than ${mostEntries} entries. Nothing was kept; send it in smaller parts.`,
    bodyHasMoreMostParts: (mostParts: number) =>
      `The body has more than ${mostParts} lists, objects and named members. Nothing was kept; send it in smaller parts.`,
    bodyIsEmpty: "The body is empty; it must be JSON.",
    bodyIsNotValidJson: "The body is not valid JSON in UTF-8.",
    nothingWasKept: (words: string) => `${words} Nothing was kept.`,
  },
};
