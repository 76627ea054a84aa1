import { UI_WORDS } from "./words";
const words = UI_WORDS.workAreas;

/**
 * The work areas in the order of the job. A row is all that an area needs beside its folder `app/KEY` and its actions in
 * `lib/server/auth/permissions.ts`: the rail, the first page and who sees it follow from here.
 */
export const WORK_AREAS = [
  {
    key: "today",
    name: words.today,
    href: "/",
    view: null,
    question: words.whatNeedsMe,
    what: words.whatWaits,
  },
  {
    key: "line",
    name: words.line,
    href: "/line",
    view: "line.view",
    question: words.whatDoIMeasureNext,
    what: words.scanFrame,
  },
  {
    key: "drift",
    name: words.drift,
    href: "/drift",
    view: "drift.view",
    question: words.whatIsMoving,
    what: words.streamsOfEveryLine,
  },
  {
    key: "gate",
    name: words.gate,
    href: "/gate",
    view: "gate.view",
    question: words.mayShip,
    what: words.heldBatchesWithTheirReasons,
  },
  {
    key: "gauges",
    name: words.gauges,
    href: "/gauges",
    view: "gauges.view",
    question: words.wasItRight,
    what: words.statesOfGauges,
  },
  {
    key: "setup",
    name: words.setup,
    href: "/setup",
    view: "setup.view",
    question: words.byWhichDrawing,
    what: words.drawingsAndTheirLimits,
  },
] as const;

export type WorkArea = (typeof WORK_AREAS)[number];
export type WorkAreaKey = WorkArea["key"];
