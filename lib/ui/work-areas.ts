/**
 * The work areas in the order of the job. A row is all that an area needs beside its folder `app/KEY` and its actions in
 * `lib/server/auth/permissions.ts`: the rail, the first page and who sees it follow from here.
 */
export const WORK_AREAS = [
  {
    key: "line",
    name: "Line",
    href: "/line",
    view: "line.view",
    question: "What do I measure next, and is it good?",
    what: "Scan a frame, key the plan, read the verdict.",
  },
  {
    key: "drift",
    name: "Drift",
    href: "/drift",
    view: "drift.view",
    question: "What is moving, and what do I do?",
    what: "Streams of every line, signals, what to adjust and by how much.",
  },
  {
    key: "gate",
    name: "Gate",
    href: "/gate",
    view: "gate.view",
    question: "May it ship, and if not, why?",
    what: "Held batches with their reasons, decisions, the ship scan at the dock.",
  },
  {
    key: "setup",
    name: "Setup",
    href: "/setup",
    view: "setup.view",
    question: "By which drawing, plan and gauge?",
    what: "Drawings and their limits, measuring plans, lines, stations, people.",
  },
] as const;

export type WorkArea = (typeof WORK_AREAS)[number];
export type WorkAreaKey = WorkArea["key"];
