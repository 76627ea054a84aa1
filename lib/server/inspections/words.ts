import "server-only";

/** Texts that the room inspections says to people, by the file that says them. */
export const INSPECTIONS_WORDS = {
  checkInspection: {
    stationIsNotKnown: (stationId: string) =>
      `The station ${stationId} is not known. Nothing was stored; the readings are still where they were sent from. Choose the station again.`,
    stationIsOutOfUse: (station: string) =>
      `Station ${station} is out of use. Nothing was stored; the readings are still where they were sent from. Have an engineer put it back into use in Setup, then send again.`,
    measuringPlanRevision: (planRevisionId: string) =>
      `The measuring plan revision ${planRevisionId} is not released. Nothing was stored; the readings are still where they were sent from. Load the plan again at the station.`,
    isMarkedAsImpossible: (label: string, value: number) =>
      `${label} is marked as impossible to take but has the value ${value}`,
    isMarkedAsConfirmed: (label: string) => `${label} is marked as confirmed but has no value`,
    cannotBeOffScale: (label: string) => `${label} cannot be off the scale: that is said of bores only`,
    isMarkedAsOffScale: (label: string, value: number) =>
      `${label} is marked as off the scale but has the value ${value}`,
    planRevisionAsksForReadings: (planKey: string, revision: string, asked: number, count: number) =>
      `plan ${planKey} revision ${revision} asks for ${asked} readings in its order; got ${count}`,
    mustHaveOneEntryReading: (asked: number, count: number) => `must have one entry a reading, ${asked}; got ${count}`,
    mustBeBelowGot: (asked: number, index: number) => `must be below ${asked}; got ${index}`,
    mustBeBelowGotFrom: (asked: number, from: number) => `must be below ${asked}; got ${from}`,
    mustName: (text: string, kind: string, rule: string) => `"${text}" must name a ${kind}, ${rule}`,
    gaugeIsNotKnown: (key: string) =>
      `The gauge ${key} is not known. Nothing was stored; the readings are still where they were sent from. Enter the gauge in Setup or choose another.`,
    timeOfInspection: (measuredAt: string) =>
      `The time of the inspection, ${measuredAt}, lies before the year 2000. Nothing was stored; the readings are still where they were sent from. `,
    setDevicesClock: "Set the device's clock, or send how far it is from the server's clock with the reading.",
    mustNotLieBeforeYear: "must not lie before the year 2000",
    timeOfInspectionNow: (measuredAt: string, now: string) =>
      `The time of the inspection, ${measuredAt}, lies in the future (it is ${now} here). Nothing was stored; the readings are still where they were sent from. `,
    mustNotLieMore: "must not lie more than 5 minutes in the future",
    readingIsWrong: "A reading is wrong",
    gaugeIsOutOfUse: (key: string) =>
      `Gauge ${key} is out of use: its readings are taken. Put it away, and take another for the next frame.`,
  },
  leaseFrame: {
    noFrameHasSerial: (serial: string) =>
      `No frame has the serial ${serial}. Scan it again, or have its batch entered.`,
    frameBelongsToBatch: (serial: string, batchKey: string, batch: string) =>
      `Frame ${serial} belongs to batch ${batchKey}, not to ${batch}. Put it aside, or choose batch ${batchKey}.`,
    frameShippedAlready: (serial: string) =>
      `Frame ${serial} shipped already. If it is in your hands, call the engineer.`,
    frameIsBeingMeasuredOn: (serial: string, db: string) =>
      `Frame ${serial} is being measured on ${db}. Finish it there, or have an engineer give that measurement up.`,
    noFrameHasSerialSerial: (serial: string) => `No frame has the serial ${serial}.`,
    sayWhyMeasurement: (leaseDeviceId: string) => `Say why the measurement on ${leaseDeviceId} is given up.`,
    mustBeGiven: "must be given",
  },
  placeInspection: {
    inspectionWithKeyWasRecorded: (input: string, serial: string) =>
      `An inspection with the key ${input} was recorded before, for ${serial} with other content. Nothing was stored; the readings are still where they were sent from. `,
    firstOneStands: "The first one stands; send this one under a key of its own.",
    noFrameHasSerial: (serial: string) =>
      `No frame has the serial ${serial}. Nothing was stored; the readings are still where they were sent from. Scan the serial again, or have its batch entered.`,
    frameBelongsToBatch: (serial: string, batchKey: string, batch: string) =>
      `Frame ${serial} belongs to batch ${batchKey}, not to ${batch}. Nothing was stored; the readings are still where they were sent from. Choose batch ${batchKey}, or scan the serial again.`,
    frameIsOfAnotherDrawing: (serial: string, planKey: string, batchKey: string) =>
      `Frame ${serial} is of another drawing than plan ${planKey}. Nothing was stored; the readings are still where they were sent from. Load the plan of batch ${batchKey}.`,
    frameIsBeingMeasured: (serial: string, leaseDeviceId: string, leasedAt: string) =>
      `Frame ${serial} is being measured on ${leaseDeviceId} since ${leasedAt}. Nothing was stored; the readings are still where they were sent from. `,
    earlier: "earlier",
    finishItThere: "Finish it there, or have an engineer give that measurement up.",
    frameWasMeasuredBefore: (serial: string, measuredBefore: string) =>
      `Frame ${serial} was measured before, at ${measuredBefore}. Nothing was stored; the readings are still where they were sent from. `,
    sayWhyIsMeasuredAgain: "Say why it is measured again; all valid inspections then decide together.",
    mustBeGivenForSecond: "must be given for a second inspection of a frame",
    frameHasValidInspectionsAlready: (serial: string, mostTogether: number) =>
      `Frame ${serial} has ${mostTogether} valid inspections already, as many as are judged together. Nothing was stored; the readings are still where they were sent from. `,
    checkSerial:
      "Check the serial; have wrong inspections of it withdrawn by somebody else, or record a study under serials of its own.",
    gaugeWasOutOfCalibration: (key: string) =>
      `Gauge ${key} was out of calibration: its readings prove nothing for a release.`,
    measuredAgainAfterRework: "measured again after rework",
  },
  recordInspections: {
    nothingWasStoredReadings: (message: string) =>
      `${message}. Nothing was stored; the readings are still where they were sent from. Correct it, or send it as not taken.`,
    valueOfCannotBeStored:
      "A value of it cannot be stored. Nothing was stored; the readings are still where they were sent from. Correct it and send it again.",
    inspectionWasNeitherRecordedNor: "The inspection was neither recorded nor refused.",
  },
  recordingReads: {
    knownAndSimilar: (userMessage: string, serials: string) => `${userMessage} Known and similar: ${serials}.`,
  },
  withdrawInspection: {
    shippedWhatCountsOfInspections: (shippedAt: string) =>
      `Shipped ${shippedAt}; what counts of its inspections has changed since, and is against it.`,
    shippedNotMeasured: (shippedAt: string) =>
      `Shipped ${shippedAt}; an inspection was withdrawn since, and what is left does not measure it completely: nothing shows that it conforms.`,
  },
};
