import "server-only";

/** Texts that the room plant says to people, by the file that says them. */
export const PLANT_WORDS = {
  changePart: {
    isNo: (what: string, key: string) => `There is no ${what} "${key}". Nothing was changed.`,
    wasChangedBySomebodyElse: (subject: string) =>
      `The ${subject} was changed by somebody else meanwhile. Nothing was changed; load the page again and look at it first.`,
  },
  changeSetup: {
    isOneWithKeyAlready: "There is one with this key already. Nothing was changed; choose another key.",
    isTakenAlready: "is taken already",
    isNo: (table: string, key: string) => `There is no ${table} "${key}". Nothing was changed.`,
    isOutOfUse: (what: string, key: string) =>
      `The ${what} ${key} is out of use. Nothing was changed; choose another, or put it back into use first.`,
    isOutOfUseLabel: "is out of use",
  },
  firstSteps: {
    addLine: "Add a line",
    whereFramesAreMade: "Where frames are made, one after the other.",
    addOperation: "Add an operation",
    placeInRouteWhereFrames: "The place in the route where frames are measured.",
    addStation: "Add a station",
    whereOneInspectorMeasures: "Where one inspector measures.",
    draftAndReleaseDrawing: "Draft and release a drawing",
    byLimitsFramesAreJudged: "By its limits frames are judged.",
    draftAndReleaseMeasuringPlan: "Draft and release a measuring plan",
    saysWhatIsRead: "It says what is read, in which order, of which frames.",
    addSettingRing: "Add a setting ring",
    comparatorIsSet: "A comparator is set on it and checked with it. Whoever reads absolute sizes only needs none.",
    addGaugeWithCalibration: "Add a gauge with a calibration in force",
    withoutOneNoReadingProves: "Without one no reading proves anything.",
    addInspector: "Add an inspector",
    everyReadingCarriesWhoTook: "Every reading carries who took it.",
    addSupplier: "Add a supplier",
    yourOwnWorkshopIsOne: "Your own workshop is one, too.",
    addFrameModel: "Add a frame model",
    isBuiltToOneDrawing: "It is built to one drawing.",
    openBatch: "Open a batch",
    withSerialsOfFrames: "With the serials of its frames; Line shows it at once.",
    measureFirstFrame: "Measure the first frame",
    scanOnLineAndKey: "Scan it on Line and key what the plan asks; the record shows the verdict.",
  },
  queries: {
    isNoSuchPlant: "There is no such plant.",
  },
};
