import type { ReactNode } from "react";
import { formatCounted } from "@/lib/format/number-text";

/** Texts of the page of one stream, by the part of it that says them. */
export const STREAM_WORDS = {
  stream: {
    stream: "Stream",
    openCases: (count: number) => formatCounted(count, "open case"),
    notInControl: "not in control",
    streamLabel: "stream",
    drawing: "drawing",
    revision: (drawing: string, revision: string) => `${drawing}, revision ${revision}`,
    limitSet: "limit set",
    noneYet: "none yet",
    notApproved: "not approved",
    watchedBy: "watched by",
    watched: {
      starting: "frames outside alone, so far",
      size: "two sums and a limit, both sides",
      form: "two sums and a limit, upwards, by ranks",
      vector: "two sums and a limit, as the offset",
    },
    falseCases: "false cases",
    oneIn: (frames: string) => `one in about ${frames} frames`,
    frames: "frames",
    toTotal: (firstNumber: number, total: string) => `${firstNumber} to ${total}`,
    noFrameOfStreamCounts: "No frame of this stream counts any more",
    inspectionsWereWithdrawn: "Its inspections were withdrawn. The stream goes on with the next frame.",
    whatChartShows: "What the chart shows",
    newest: (choice: string) => `newest ${choice}`,
    withLimitsOfDrawing: "with the limits of the drawing",
    controlLimitsOnly: "control limits only",
    framesByValue: "frames by value",
    baselineAndNow: "Baseline and now",
    framesShown: "Frames shown",
    histogramOfBaselineWithFitted:
      "Histogram of the baseline with its fitted curve, and of the frames since, against the limits.",
    blueBaselineAndFittedCurve: (reading: string) => `blue: baseline and fitted curve${reading}`,
    outlineToSameNumber: (reading: string) => `; outline: ${reading}, to the same number`,
    sinceFrame: (reading: number) => `since frame ${reading}`,
    newest100: "newest 100",
    computingCapability: "Computing the capability",
    cases: "Cases",
    withCase: " (case open)",
    allEvents: "All events",
    enterEvent: "Enter an event",
    onLineWhereDistributionFits: "on the line where the distribution fits",
    probabilityPlot: "Probability plot",
    newestPoints: "The newest frames, one by one",
    orderedValuesAgainstQuantiles: "Ordered values against the quantiles of the fitted distribution.",
    otherStreamsOfTheseFrames: "Other streams of these frames",
    ndsOffsetAsTarget: "NDS offset, as a target",
  },
  capability: {
    wanted: "1.33 wanted",
    iso225142: "ISO 22514-2",
    capability: "Capability",
    notStated: "Not stated.",
    toUpper: (lower: string, upper: string) => `${lower} to ${upper}`,
    to: (lower: string, upper: string) => `, ${lower} to ${upper}`,
    capabilityProvisional: (provisional: string) => `Capability${provisional}`,
    provisional: ", provisional",
    processPerformanceIndexPpk: "Process performance index Ppk",
    distanceFromMiddleOfFitted:
      "the distance from the middle of the fitted distribution to the limit, divided by the distance from there to the quantile that 0.135 % exceed; the worse limit decides",
    zoneOfOffset: "zone of the offset",
    iso2251422017: "ISO 22514-2:2017",
    noInterval: "no interval",
    at95: (range: string) => `${range} at 95 %`,
    describesProcess: "It describes the process; each measured frame has its own verdict.",
    ppk: (ppk: string) => `Ppk ${ppk}`,
    over5: "over 5",
    fitsNewestFramesOutside: (distribution: string, frames: number, fraction: string, part: string) =>
      `${distribution} fits, newest ${frames} frames; ${fraction} outside${part}.`,
  },
  leftOut: {
    leftOutOfChart: (frames: number, named: ReactNode, rest: string) => (
      <>
        Left out of chart, limits and change points, since a reading was confirmed after a question or lay off the
        scale: {formatCounted(frames, "frame", "frames")}, {named}
        {rest}.
      </>
    ),
    andEarlier: (rest: number) => ` and ${rest} earlier`,
  },
  limits: {
    ofBaseline: "Baseline and its versions",
    version: (version: number) => `version ${version}`,
    controlLimits: "Control limits",
    noneYet: (total: number) =>
      `None yet: limits are provisional from 25 frames on and can be approved from 100. The stream has ${total}.`,
    fromTo: (
      lower: string,
      upper: string,
      method: string,
      frames: number,
      baselineFrom: ReactNode,
      baselineTo: ReactNode,
      provisionalNobody: ReactNode,
    ) => (
      <>
        {lower}
        {upper}: {method}, from {formatCounted(frames, "frame")}, {baselineFrom} to {baselineTo}. {provisionalNobody}
      </>
    ),
    toLower: (lower: string) => `${lower} to `,
    provisionalNobodyHasApprovedThem: "Provisional, nobody has approved them.",
    nobodyHasApprovedThem: "Nobody has approved them.",
    approvedByOn: (approvedBy: string, approvedAt: string) => `Approved by ${approvedBy} on ${approvedAt}.`,
    somebody: "somebody",
    falseAlarmInAbout740: (usualFormRunLength: string) =>
      `A false alarm in about 740 frames by the limit${usualFormRunLength} where the fitted distribution holds; the fewer frames it was fitted to, the less sure that is.`,
    andInAboutByWeighted: (usualFormRunLength: string) => `, and in about ${usualFormRunLength} by the weighted mean,`,
    falseAlarmInToFrames: (lower: number, upper: number, nominal: number) =>
      `A false alarm in ${lower} to ${upper} frames while nothing changes (90 %, since the limits are estimated); ${nominal} with limits that are known.`,
  },
  points: {
    newestPoints: "Newest points",
    frame: "frame",
    serial: "serial",
    verdictOfFrame: "verdict of the frame",
    case: "case",
    outside: "outside the limit",
    ofCase: (number: number) => `case ${number}`,
    reamer: "reamer",
    fixture: "fixture",
    measured: "measured",
    ofShown: (count: number, frames: number) => `${count} of ${formatCounted(frames, "frame")} shown`,
  },
  cases: {
    none: "None so far. A case opens when the stream leaves the region in control, or a frame lies outside its limit.",
    named: (number: number, state: string) => `Case ${number}, ${state}`,
    goesOn: "goes on",
    over: "over, not closed yet",
    gone: "open, nothing of it is left",
    closed: "closed",
    closedAs: (cause: string) => `closed: ${cause}`,
  },
  earlier: {
    title: (count: number) => formatCounted(count, "earlier signal"),
    explained:
      "Run rules alarmed in earlier versions, now cases do. What was open then is closed; a cause that was assigned still leaves its frame out of baselines.",
    cause: (cause: string, assignedBy: string | null) =>
      `; cause: ${cause}${assignedBy === null ? "" : ` (${assignedBy})`}`,
  },
  charts: {
    shown: (headline: string, frames: number, flagged: number) =>
      `${headline}. ${formatCounted(frames, "frame")} shown, ${flagged} flagged.`,
    eachPointOneFrame: "each point one frame; individuals chart",
    howItIsTested: "How it is tested",
    companions: "More charts of the same frames",
    eachPointOneFrameLabel: "each point one frame",
    movingRangeUm: "Moving range, µm",
    fromFrameToFrame: "from frame to frame",
    differencesOfNeighbouringFrames: "Differences of neighbouring frames against their limit.",
    weightedMean: (unit: string) => `Weighted mean, ${unit}`,
    eachNewFrameCountsQuarter: "each new frame counts a quarter; finds small growth",
    weightedMeanOfLast20: "Weighted mean of the last 20 frames against its limit.",
    spreadWithinBoreUm: "Spread within the bore, µm",
    largestMinusSmallestDiameter: "largest minus smallest diameter of each frame",
    rangeOfDiametersWithin: "Range of the diameters within one bore against its limit.",
  },
  figures: {
    meanNotProven: (interval: number, interval2: string | number) =>
      `mean not proven in ${interval} to ${interval2} frames`,
    many: "many",
    caseTag: (number: number, isClosed: boolean) => `case ${number}${isClosed ? ", closed" : ""}`,
    caseSince: (number: number, serial: string, at: string) => `case ${number}: since ${serial}, ${at}`,
    caseInterval: (earliest: string, latest: string) =>
      earliest === latest ? `at ${earliest}` : `between ${earliest} and ${latest}`,
    found: (number: number, serial: string) => `case ${number}, first flagged ${serial}`,
    outside: "outside the limit",
    ofCase: (number: number) => `case ${number}`,
    changePointFrame: (since: number, at: string) => `change point: frame ${since}, ${at}`,
    changeInterval: (earliest: number, latest: number) => `95 % interval frames ${earliest} to ${latest}`,
    edge: "edge, in control",
    ofCount: (index: number, count: number) => `${index} of ${count}`,
  },
  toolLife: {
    toolLife: (tool: string) => `Tool life${tool}`,
    noUpperEstimate: "no upper estimate",
    toAllowingForUncertainty: (limitValue: string) => `to ${limitValue}, allowing for uncertainty`,
    framesUntilMeanMeetsGuarded: "Frames until the mean meets the guarded limit",
    straightLineThroughFramesSince:
      "a straight line through the frames since the tool change, by least squares that allow for neighbouring frames being alike; where it meets the limit narrowed by the uncertainty",
    over100000: "over 100 000",
    fieller1954: "Fieller 1954; Draper and Smith 1998, 3.2",
    toAt95: (interval: string, to: string) => `${interval} to ${to} at 95 %`,
    holdsWhileToolWears: "It holds while the tool wears as before.",
    framesLeft95To: (interval: string, to: string) => `frames left, 95 %: ${interval} to ${to}`,
  },
  whatToDo: {
    openCase: (number: number) => `Open case ${number}`,
    openFrame: (serial: string) => `Open ${serial}`,
    enterWhatWasDone: "Enter what was done",
  },
};
