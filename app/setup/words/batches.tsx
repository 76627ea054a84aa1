import type { ReactNode } from "react";

/** Texts of entering batches and of first-off frames. */
export const BATCH_ENTRY_WORDS = {
  batches: {
    batches: "Batches",
    openBatch: "Open a batch",
    lead: "Frames that came or were made together: one supplier, one model, one lot. The station shows it at once.",
    newBatch: "New batch",
    batch: "batch",
    supplier: "supplier",
    frameModel: "frame model",
    line: "line",
    measuringPlan: "measuring plan",
    serials: "serials",
    oneToLine:
      "One to a line, or a range such as C41-05000..C41-05047. A tab, comma or semicolon and the mould may follow.",
    openBatchHeading: "Open the batch",
    openedFramesCanBeMeasured: "Opened; its frames can be measured at the stations of the line.",
    engineersOpenBatches: "Engineers open batches",
    askOne: "Ask one, or a person with that role.",
    newestTwenty: "the newest twenty",
    newestBatches: "Newest batches",
    plan: "plan",
    frames: "frames",
    to: " to ",
    opened: "opened",
    noBatchYet: "No batch yet",
    openFirstOneBeside: "Open the first one beside.",
  },
  firstOff: {
    firstOffRelease: "First-off release",
    askedFor: (why: string, since: string) => `Asked for: ${why}, ${since}.`,
    firstFrame: "The first frame is to be measured.",
    byOnReason: (
      released: ReactNode,
      by: string,
      frame: ReactNode,
      at: ReactNode,
      since: ReactNode,
      grounds: string,
    ) => (
      <>
        {released} by {by} on {frame}, {at}. {since} Reason: {grounds}
      </>
    ),
    released: "Released",
    frameOfBatchMeasured: (
      waitsForRelease: ReactNode,
      frame: ReactNode,
      batch: string,
      verdict: string,
      measuredAt: ReactNode,
      since: ReactNode,
    ) => (
      <>
        {waitsForRelease} Frame {frame} of batch {batch}: {verdict}, measured {measuredAt}. {since}
      </>
    ),
    waitsForRelease: "Waits for a release.",
    correctProcessAndMeasureAnother: "Correct the process and measure another frame.",
    noLineWaitsForFirst: "No line waits for a first-off release",
    ofWaitForTheirFirst: (waiting: number, count: number) => `${waiting} of ${count} wait for their first-off`,
    lead: "Where a plan asks for it, the first frame of a shift or after an event stands for the line: an engineer looks at it and signs.",
    noPlanInUseAsks: "No plan in use asks for a first-off release",
    engineerAsksForInMeasuring:
      "An engineer asks for it in the measuring plan: each shift, or after each event on the line.",
    reason: "reason",
    yourPasswordSigns: "your password signs",
    releaseOn: (line: string, serial: string) => `Release ${line} on ${serial}`,
    releasedSentence: "Released.",
  },
};
