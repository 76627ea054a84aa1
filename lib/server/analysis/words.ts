import "server-only";

/** Texts that the room analysis says to people, by the file that says them. */
export const ANALYSIS_WORDS = {
  analyse: {
    distributionNeedsAtLeastValues: (fewestForFit: number, count: number) =>
      `A distribution needs at least ${fewestForFit} values; there are ${count}.`,
    allValuesAreEqual: "All values are equal: there is no distribution to fit.",
  },
  analysisChart: {
    rulesWhosePatternsHavePoints: (length: number, most: number, points: number) =>
      `Rules whose patterns have ${length} points together can be tested on at most ${most} values; there are ${points}. Nothing was changed; send fewer values or fewer rules.`,
  },
  analysisRunLength: {
    baselineGoesWithCusum: "A baseline goes with a CUSUM of both sides. Nothing was changed.",
  },
  answerGaugeStudy: {
    inAllTrialsOf: (inspector: string) => `in all trials of ${inspector}`,
    inTrialOf: (trial: string, inspector: string) => `in trial ${trial} of ${inspector}`,
    rangeOfPart: (part: string, inspector: string) =>
      `The range of part ${part} by ${inspector} is beyond its limit: look for a slip, or measure this part again.`,
  },
  assertFinite: {
    theseNumbersGiveResult: "These numbers give a result too large to be stated. Nothing was changed.",
  },
};
