import { formatCounted } from "@/lib/format/number-text";

/** Texts of Setup that belong to none of its rooms. */
export const SETUP_WORDS = {
  overview: {
    setup: "Setup",
    notYet: "not yet",
    inventedForDemonstration:
      "Invented for demonstration: plant, people, suppliers, limits and numbers. A real plant enters its own drawings.",
    byWhichDrawing: "By which drawing, plan and gauge frames are judged.",
    releasedRevisionNeverChanges: "a released revision never changes",
    drawings: "Drawings",
    drawing: "drawing",
    title: "title",
    revisions: "revisions",
    noDrawingYet: "No drawing yet",
    engineerDraftsAndReleasesFirst: "An engineer drafts and releases the first one.",
    newDrawing: "New drawing",
    measuringPlans: "Measuring plans",
    plan: "plan",
    revision: "revision",
    forDrawing: "for drawing",
    readings: "readings",
    whichFrames: "which frames",
    released: "released",
    noPlanYet: "No plan yet",
    planSaysWhichReadings: "A plan says which readings are keyed, in which order.",
    newPlan: "New plan",
  },
  rooms: {
    overview: "Drawings and plans",
    batches: "Batches",
    plant: "Lines and models",
    gauges: "Gauges",
    devices: "Devices",
    firstOff: "First-off",
    messages: "Messages",
    people: "People and tokens",
    jobs: "Jobs",
    backups: "Backups",
    journal: "Journal",
    about: "About",
    setup: "Setup",
    myPassword: "My password",
  },
  parts: {
    outOfUse: "out of use",
  },
  inUse: {
    use: "use",
    inUse: "in use",
  },
  uncertainty: {
    uncertaintyUsesMuchOfTolerance: "The uncertainty uses much of a tolerance",
  },
  password: {
    myPassword: "My password",
    lead: "It signs your decisions, too. Changing it signs you out everywhere, here as well.",
    currentPassword: "current password",
    newPassword: "new password",
    passwordLength: "12 characters or more",
    newOneAgain: "the new one again",
    changeMyPassword: "Change my password",
    changed: "Changed.",
  },
  answers: {
    framesAre: (count: number) => formatCounted(count, "frame is", "frames are"),
    shippedAreInQuestion: (framesHave: number) =>
      ` ${formatCounted(framesHave, "frame that has", "frames that have")} shipped are in question.`,
    enteredByHeldSinceGauge: (frames: string, shipped: string) =>
      `Entered. By it ${frames} held, since the gauge was out of calibration when it measured them.${shipped} See the Gate.`,
    line: (line: number, message: string) => `line ${line}: ${message}`,
    nameAtLeastOneFrame: "name at least one frame",
    isNotSameAsNew: "is not the same as the new password",
  },
};
