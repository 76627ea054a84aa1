import "server-only";

/** Texts that the room compute says to people, by the file that says them. */
export const COMPUTE_WORDS = {
  answerTask: {
    answerWouldBeLarger: (mostAnswerBytes: number) =>
      `The answer would be larger than ${mostAnswerBytes} MB. Nothing was changed; send fewer values, or rules that signal less often.`,
    mayHaveAtMostEntries: (path: string, maximum: number | bigint) =>
      `${path} may have at most ${maximum} entries. Nothing was changed; send it in smaller parts.`,
    aList: "A list",
  },
  compute: {
    needsMoreMemory: "This needs more memory than one request may use. Nothing was changed; send fewer values.",
  },
};
