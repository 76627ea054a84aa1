import { formatCounted } from "@/lib/format/number-text";

/** Texts of the screen of a finished frame. */
export const VERDICT_WORDS = {
  finished: {
    firstOffCallEngineer: "First-off: call the engineer",
    keepFrameAtStation: "Keep the frame at the station. The line waits until it is released under Setup, First-off.",
    firstOffFailed: "First-off failed: call the engineer",
    holdIt: "Hold it, have the process corrected, measure the next frame: that one then stands for the line.",
    gaugeWasOutOfCalibration: (key: string) => `Gauge ${key} was out of calibration: the frame is held.`,
    measuredAgain:
      "Measured again: this is the result of these readings alone. The server judges all inspections together.",
    conform: "conform",
    limit: (upper: string) => `limit ø ${upper}`,
    inspectionAlone: "this inspection alone; the server knows the earlier ones",
    inspectionWithdrawn: (withdrawn: string) => `Inspection withdrawn: ${withdrawn}`,
    serverKnowsOfDoubtDevice: (doubts: string, verdict: string) =>
      `The server knows of a doubt that this device did not: ${doubts}. Its result, “${verdict}”, is the record.`,
    serversResultForInspectionIs: (verdict: string, verdict2: string) =>
      `The server’s result for this inspection is “${verdict}”, this device’s was “${verdict2}”. The server’s is the record: report this fault to whoever looks after Shellgate.`,
    whereAxesLie: "Where the axes lie",
    axesWereNotMeasured: (reason: string) => `The axes were not measured: ${reason}.`,
    planHasNoSweep: "the plan has no sweep",
    wayRoundOfSweeps: "Way round of the sweeps",
    yesWayRound: "Yes, that way round",
    noMeasureAgain: "No, measure again",
    whatWasWithdrawn: "What was withdrawn",
    whyConforms: "Why it conforms",
    whatWasMeasured: "What was measured",
    why: "Why",
    togetherWithEarlierInspectionsFrame: (verdict: string, verdict2: string | undefined) =>
      `Together with its earlier inspections the frame is judged “${verdict}”; this one alone is “${verdict2}”.`,
    batchIsHeld: (batch: string) => ` Batch ${batch} is held.`,
    scanNextFrame: "Scan the next frame",
    serial: "serial",
    printLabel: "Print label",
    measureAgain: "Measure again",
    howToWithdraw: "How to withdraw",
    batch: "Batch",
    allCharacteristics: "All characteristics",
    drawing: "drawing",
    rev: (drawing: string, revision: string) => `${drawing} rev ${revision}`,
    inspection: "inspection",
    inSeconds: (ordinal: string, readings: number, seconds: string) =>
      `${ordinal}${formatCounted(readings, "reading")} in ${seconds}`,
    no: (ordinal: number) => `no. ${ordinal}, `,
    decisionRule: "decision rule",
    gauges: "gauges",
    noneEntered: "none entered",
    inspector: "inspector",
    record: "record",
    onServer: "on the server",
    onDeviceRefused: "on this device, refused by the server",
    onDeviceToBeSent: "on this device, to be sent",
    inspectionIsWithdrawnElsewhere: "An inspection is withdrawn elsewhere",
    understood: "Understood",
    notOnDeviceRecorded: (serial: string) =>
      `Not on the device that recorded it, and not by anyone who took its readings: somebody else opens frame ${serial} under Search on another device, and withdraws it there with a reason.`,
    staysOnRecordAndCounts:
      "It stays on the record and counts no more. Until then the frame stays as it is: put it aside.",
  },
  label: {
    batch: (batch: string, at: string) => `batch ${batch}, ${at}`,
  },
  meaning: {
    rework: {
      "line-ream": "Rework: line-ream both seats",
      facing: "Rework: face it",
      "retaining compound": "Rework: retaining compound",
    },
    estimates20CMakersLimits: "estimates, 20 °C; makers’ limits decide",
    whatMeans: "What this means",
    computing: "Computing …",
    dsNds: (figure: string, figure2: string) => `DS ${figure}; NDS ${figure2}`,
  },
  nextStep: {
    batchIsHeld: (batch: string) => `Batch ${batch} is held: until somebody has decided, its frames cannot ship.`,
    readingsAreOnServer: "its readings are on the server",
    leftOfBatchMeasured: (frames: number, isText: string) =>
      `the ${formatCounted(frames, "frame")} left of its batch ${isText} measured`,
    is: "is",
    are: "are",
    canShip: "Can ship.",
    canShipOnce: (open: string) => `Can ship once ${open}.`,
    and: " and ",
    letSettleMeasureAgain: "Let it settle, measure again",
    shellWasTooWarm:
      "The shell was too warm or too cold, or nobody knows how warm. Until it is measured again, it cannot ship.",
    seatIndicatorSweepAgain: "Seat the indicator, sweep again",
    sweepWasNotRegular: "The sweep was not regular. Until it is swept again, it cannot ship.",
    measureAgainGaugeInOrder: "Measure again, gauge in order",
    whatTookTheseReadingsProves:
      "What took these readings proves nothing; the reasons say which and why. Until then it cannot ship.",
    labelCallEngineer: "Label it, call the engineer",
    twoResultsCannotBoth:
      "Two results cannot both be right. Somebody who took neither decides which counts; until then it cannot ship.",
    cleanAndMeasureAgain: "Clean it and measure again",
    valueLiesInsideUncertainty:
      "A value lies inside the uncertainty. If it stays so, the engineer decides; it cannot ship.",
    labelItToHoldRack: "Label it, put it on the hold rack",
    valuesConform:
      "Its values conform, but its gauge proves nothing. Measure it again with a gauge in order, or call the engineer: until then it cannot ship.",
    measureWhatIsMissing: "Measure what is missing",
    untilThenFrameIsHeld: "Until then the frame is held and it cannot ship.",
    labelIt: (rework: string) =>
      `${rework} Label it, put it on the rework rack; an engineer decides. Until it is measured again, it cannot ship.`,
    callEngineer: "Call the engineer. Until it is measured again or decided on, it cannot ship.",
    measureAgain: "Measure it again",
    inspectionCountsNoMore:
      "This inspection counts no more; its record stays with the reason. Earlier ones that are valid still count.",
    decideWhatServerAsks: "Decide what the server asks",
    didNotTakeInspection:
      "It did not take this inspection; the readings are saved on this tablet. Open the box at the top, then put the frame where it belongs.",
    labelItKeepAtStation: "Label it, keep it at the station",
    wasMeasuredBefore:
      "It was measured before, and all its valid inspections decide together. The server has the earlier ones: its answer comes when the readings are there.",
    batchIsHeldBatch: (text: string, batch: string) => `${text} Batch ${batch} is held.`,
    doubtDoesNotHoldFrame: "A doubt that does not hold the frame; the engineer sees it. ",
    toRackOfGoodFrames: "To the rack of good frames",
  },
};
