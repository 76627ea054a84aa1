import type { ReactNode } from "react";
import { formatCounted } from "@/lib/format/number-text";

/** Texts of the zero check. */
export const ZERO_CHECK_WORDS = {
  screen: {
    ofWhy: (zeroCheck: ReactNode, gauge: string, why: string) => (
      <>
        {zeroCheck} of {gauge}
        {why}
      </>
    ),
    zeroCheck: "Zero check",
    frameStartsAfter: (serial: string) => `Frame ${serial} starts after it.`,
    settingRing: "Setting ring",
    settingRingCertified: "setting ring, certified",
    mayShow: "may show",
    before: "before",
    now: "now",
    neverChecked: "never checked",
    lastGoodOne: "last good one",
    occasion: "occasion",
    inspector: "inspector",
    showRing: (gauge: string) => `Show ${gauge} its ring`,
    certifiedMayShow: (ring: string, size: string, allowed: string) =>
      `${ring}, certified ${size}; it may show ${allowed}`,
    whatShowsInRingIn: (gauge: string, ring: string, unit: string) => `What ${gauge} shows in ring ${ring}, in ${unit}`,
    theZeroCheck: "the zero check",
    yes: "Yes",
    keepZeroCheck: "Keep zero check",
    leaveIt: "Leave it",
    measureFirst: "Measure first",
    back: "Back",
    keypad: "Keypad",
    decimalSignIsMissing: (meant: ReactNode) => (
      <>{meant} The decimal sign is missing. Enter takes the offer, a new number replaces it.</>
    ),
    meant: (question: string) => `Meant ${question}?`,
    noReadingYet: "no reading yet",
    passes: "passes",
    fails: "fails",
  },
  failed: {
    andMoreFrames: (moreFrames: number) => ` and ${formatCounted(moreFrames, "more frame")}`,
    umToo: (driftUm: string, large: string) => `${driftUm} µm too ${large}`,
    large: "large",
    small: "small",
    everythingEverMeasured: (gauge: string) =>
      `Everything that ${gauge} ever measured is not proven: it has no good zero check`,
    whatMeasuredSinceLastGood: (gauge: string, from: string) =>
      `What ${gauge} measured since its last good zero check, ${from}, is not proven`,
    goOnWith: (serial: string) => `Go on with ${serial}`,
    goOn: "Go on",
    start: (waits: string) => `Start ${waits}`,
    zeroCheckFailed: "zero check failed",
    showsLimit: (gauge: string, ring: string, off: string, limit: string) =>
      `${gauge} shows ${ring} ${off}, limit ${limit}`,
    whatHappensToReadings: "What happens to the readings",
    deviceMeasuredNoFrame: "This device measured no frame with it since.",
    deviceMeasuredWithSince: (frames: number) =>
      `This device measured ${formatCounted(frames, "frame")} with it since:`,
    frameIsInHand: (serial: string, gauge: string) =>
      `Frame ${serial} is in hand: its readings by ${gauge} stay not proven. Measure it again afterwards.`,
    serverHoldsThemAsSoon: "The server holds them as soon as it has this check; it waits on this device.",
    serverHasCheck: (frames: number, held: number, shipped: number, escapes: string, batchesHeld: string) =>
      `The server has this check. Frames that rest on the gauge: ${frames}, held by it now: ${held}, shipped: ${shipped}${escapes}.${batchesHeld}`,
    opened: (escapes: number) => ` (${formatCounted(escapes, "escape")} opened)`,
    heldBatch: (batchesHeld: string) => ` Held: batch ${batchesHeld}.`,
    toFreeThem:
      "To free them, measure them again with a gauge in order and have the doubtful inspections withdrawn; a good check from before frees what lies before it.",
    whatToDoNow: "What to do now",
    cleanIt: "Clean it, set it in its ring, check it again",
    takeInstead: (other: string) => `Take ${other} instead`,
    isNoOtherGauge: (gauge: string) =>
      `There is no other gauge in order of its kind at this station. Until a good check, readings of ${gauge} prove nothing.`,
    isOffStationsOffer: (gauge: string) =>
      `${gauge} is off this station’s offer until a good check. Put it aside and call the engineer.`,
    withOther: (onward: string, other: string) => `${onward}, with ${other}`,
    checkAgain: (gauge: string) => `Check ${gauge} again`,
    isNotTakenHere: (refused: string) =>
      `“${refused}” is not taken here: choose first how to go on, then scan or key it again.`,
  },
  drawing: {
    settingRing: (ring: string, size: string, allowed: string) =>
      `Setting ring ${ring}, certified ${size}; the gauge may show ${allowed}`,
    mark: (size: string) => `ø ${size}`,
    gaugeMayShow: (allowed: string) => `gauge may show ${allowed}`,
  },
};
