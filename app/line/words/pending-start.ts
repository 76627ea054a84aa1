/** Texts of what is asked before a frame is started. */
export const PENDING_START_WORDS = {
  pendingStart: {
    afterRework: "after rework",
    readingInDoubt: "reading in doubt",
    cleanedAndMeasuredAgain: "cleaned and measured again",
    askedForByEngineer: "asked for by the engineer",
    frameWasMeasuredBefore: (serial: string) => `Frame ${serial} was measured before`,
    whyIsMeasuredAgainAll: "Why is it measured again? All valid inspections decide together, and the count is shown.",
    frameIsOfAnotherBatch: (serial: string) => `Frame ${serial} is of another batch`,
    frameIsNotFinished: (serial: string) => `Frame ${serial} is not finished`,
    scanAgain: "Scan again",
    goOnWith: (serial: string) => `Go on with ${serial}`,
    thisOne: "this one",
    changeToBatch: (batch: string) => `Change to batch ${batch}`,
    putAsideStart: (serial: string) => `Put it aside, start ${serial}`,
    belongsToBatch: (batch: string, batch2: string | null) =>
      `It belongs to batch ${batch}; batch ${batch2} is in hand. Was the right frame scanned?`,
    ofReadingsAreKeyed: (done: number, count: number) =>
      `${done} of ${count} readings are keyed. Put aside, they stay on this device and the frame can be gone on with later.`,
    frameBelongsToLine: (line: string) => `This frame belongs to line ${line}. Measure it here?`,
    noPutAside: "No, put it aside",
    yesMeasureHere: "Yes, measure it here",
    frameIsOfBatch: (serial: string, batch: string, line: string | undefined, line2: string) =>
      `Frame ${serial} is of batch ${batch} and line ${line}; this station is of line ${line2}. Measured here, it is measured by the plan of its batch, and your answer stays in its record.`,
    toAdjustProcess: "to adjust the process",
    frameWasMadeBefore: "frame was made before",
    lineWaitsForEngineer: "The line waits for an engineer",
    lookAgain: "Look again",
    firstOffIsMeasured: (serial: string, why: string, since: string) =>
      `First-off ${serial} is measured and conforms. Until an engineer has released it (${why}, ${since}), nothing more is made on this line.`,
    measureAllSameReasonStays: (serial: string) => `Measure ${serial} all the same? The reason stays in its record.`,
    measureWith: (serial: string, gauge: string) => `Measure ${serial} with ${gauge}?`,
    backTakeAnotherGauge: "Back, take another gauge",
    measureAllSame: "Measure all the same",
    provesNothingForRelease: (gauge: string, doubt: string) =>
      `${gauge} proves nothing for a release: ${doubt}. There is no other one in order at this station. Frames measured with it are held.`,
  },
};
