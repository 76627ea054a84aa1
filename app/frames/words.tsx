import type { ReactNode } from "react";

/** Texts of the frame record, by the part of it that says them. */
export const FRAME_WORDS = {
  record: {
    frame: (serial: string) => `Frame ${serial}`,
    inspectionsTogether: (judgedOn: number) => `${judgedOn} inspections together`,
    why: "Why",
    criticalOnDrawing: (reason: string) => `Critical on the drawing, not given by this plan: ${reason}.`,
    everyCharacteristicLiesInsideLimits: "Every characteristic lies inside its limits by more than its uncertainty.",
    toLargest: (smallest: string, largest: string) => `${smallest} to ${largest}`,
    offScale: "off the scale",
    result: "result",
    characteristic: "characteristic",
    critical: "critical",
    seat: "seat",
    value: "value",
    limits: "limits",
    uK2: "U (k = 2)",
    where: "where",
    characteristics: "Characteristics",
    estimates20CMakersLimits: "estimates, 20 °C; makers' limits decide",
    whatMeans: "What this means",
    shellWithOffsetOfAxes: "The shell with the offset of its axes",
    inspectionRecorded: (ordinal: number, verdict: string) => `inspection ${ordinal} recorded: ${verdict}`,
    measured: (measuredAt: string, reason: string) => `measured ${measuredAt}${reason}`,
    inspectionWithdrawn: (ordinal: number) => `inspection ${ordinal} withdrawn`,
    escapeOpened: "escape opened",
    newestDecisionsAndShipScans: (mostHistory: number) => `the newest ${mostHistory} decisions and ship scans`,
    history: "History",
    nothingWasDoneWithYet: "Nothing was done with it yet.",
    oldest: "oldest",
    older: "older",
    newer: "newer",
    newest: "newest",
    ofShownPageOf: (count: number, inspectionCount: number, page: number, pages: number) =>
      `${count} of ${inspectionCount} shown, page ${page} of ${pages}`,
    inspections: "Inspections",
    pagesOfInspections: "Pages of inspections",
    notNamed: "not named",
    notYetJudged: "not yet judged",
    beforeVersionsWereKept: "before versions were kept",
    storedAs: (verdict: string) => `: stored as ${verdict}`,
    notMeasured: "not measured",
    pageBy: (by: string, coreVersion: string, now: string) => `${by}; this page by ${coreVersion}${now}`,
    limit: (worst: string, limit: string) => `${worst}, limit ${limit}`,
    drawing: "drawing",
    noneYet: "none yet",
    revision: (drawing: string, revision: string, limitsAreProposal: string) =>
      `${drawing}, revision ${revision}${limitsAreProposal}`,
    limitsAreProposal: " (limits are a proposal)",
    decisionRule: "decision rule",
    gauges: "gauges",
    noneNamed: "none named",
    inspector: "inspector",
    lineStation: "line, station",
    judgedByVersion: "judged by version",
    measuredLabel: "measured",
    notYet: "not yet",
    inBatch: (batch: ReactNode, supplier: string, model: string, mould: string, whichIsHeld: string) => (
      <>
        in batch {batch}, {supplier}, {model}
        {mould}
        {whichIsHeld}
      </>
    ),
    mouldCavity: (mould: string) => `, mould cavity ${mould}`,
    whichIsHeld: ", which is held",
    frameHasNotBeenMeasured: "This frame has not been measured",
    scanAtStationUnderLine: "Scan it at a station under Line; its record fills with the first reading.",
    isBeingMeasuredOn: (leaseDeviceId: string) => `It is being measured on ${leaseDeviceId}.`,
    doesNotConform: "does not conform",
    notProven: "not proven",
    conform: "conform",
  },
  disagreement: {
    sideWords: {
      readings: "The readings count: the plug or bar was wrong",
      felt: "What was felt counts: the readings were wrong",
    },
    frameIsHeld:
      "The frame is held until what is wrong is withdrawn, it is measured again with another gauge, or somebody who keyed none of it decides.",
    againstReadings: (feltSubjectWords: string, labels: string) =>
      `The ${feltSubjectWords} against the readings, ${labels}`,
    and: " and ",
    setAsideWhatDoes: "Set aside what does not count",
    alone: (verdict: string) => `alone: ${verdict}`,
    allElseCounts:
      "All else counts, and judges the frame. Everything stays on the record. Who keyed any of it cannot sign.",
    signWhatCounts: "Sign what counts",
    notSigned: "Not signed",
    signedAndRecordedInJournal: "Signed and recorded in the journal.",
  },
  form: {
    seatDeep: (swept: string, depthMm: string) => `${swept} seat, ${depthMm} deep`,
    seatContactOf: (seat: string, diameterMm: string) => `${seat} seat, contact of ø ${diameterMm}`,
    seenFromDriveSide: "seen from the drive side; rings in µm",
    formAndContactByClock: "Form and contact by the clock",
  },
  readings: {
    cannot: (reason: string) => `cannot: ${reason}`,
    offScale: "off the scale",
    notTaken: "not taken",
    askedAboutAndConfirmed: "asked about and confirmed: in no limits and no change points",
    tooLargeForGauge: "too large for its gauge",
    tooSmallForGauge: "too small for its gauge",
    keyedBy: (inspector: string) => `, keyed by ${inspector}`,
    reading: "reading",
    value: "value",
    remark: "remark",
    replacedValue: "replaced value",
    gauge: "gauge",
    measuredBy: "measured by",
    nameInFiles: "name in files",
    inspectionPlanRevision: (
      ordinal: number,
      operation: string,
      measuredAt: ReactNode,
      plan: string,
      planRevision: string,
    ) => (
      <>
        Inspection {ordinal}, {operation}, {measuredAt}, plan {plan} revision {planRevision}:
      </>
    ),
    withdrawnBy: (person: string, reason: string) => `withdrawn by ${person}: ${reason}`,
    remarkRemark: (remark: string) => `Remark: ${remark}`,
    photoOfInspection: (index: number, ordinal: number) => `Photo ${index} of inspection ${ordinal}`,
    firstOff: "First-off: measured in full, it stood for the line until an engineer’s release.",
    measuredWhileLineWaited: (beforeRelease: string) =>
      `Measured while the line waited for the release of its first-off: ${beforeRelease}`,
    measuredAtLine: (line: string, otherLine: string) =>
      `Measured at line ${line}, the frame belongs to line ${otherLine}: asked, and answered that it was the right one.`,
    planDidNotAsk: "The plan did not ask for this frame: it was measured outside it.",
    readingsOfInspection: (ordinal: number) => `Readings of inspection ${ordinal}`,
  },
  withdraw: {
    withdrawBecause: "Withdraw it, because",
    withdrawInspection: "Withdraw this inspection",
    notWithdrawn: "Not withdrawn",
  },
};
