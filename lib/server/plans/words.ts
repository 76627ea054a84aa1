import "server-only";

/** Texts that the room plans says to people, by the file that says them. */
export const PLANS_WORDS = {
  commands: {
    liesDeeperThanSeat: (tooDeep: string, seatDepthMm: number) =>
      `${tooDeep} lies deeper than the seat, ${seatDepthMm} mm`,
    planDoesNotFitDrawing: (message: string) => `The plan does not fit the drawing: ${message}. Nothing was changed.`,
    mustBeReleasedPlan: "must be a released plan for the same drawing",
    planCannotBeNamedHere: (wrong: string, message: string) =>
      `Plan ${wrong} cannot be named here: it ${message}. Nothing was changed.`,
    drawingRevisionIsNotKnown: "The drawing revision is not known or not released. Nothing was changed.",
    isPlanAlready: (input: string) =>
      `There is a plan ${input} already. Nothing was changed; revise it, or choose another key.`,
    isTakenAlready: "is taken already",
    revisionIsNoDraftAny: "This revision is no draft any more, or is not known. Nothing was changed.",
    plansDrawingRevisionWasSuperseded:
      "The plan's drawing revision was superseded by a newer one. Nothing was changed; draft the plan again for the drawing in force.",
    drawingRevision: "The drawing revision is not one of this plan's, or not released. Nothing was changed.",
  },
  queries: {
    isNoSuchPlanRevision: "There is no such plan revision. Choose one under Setup.",
  },
};
