import type { ReactNode } from "react";
import { formatCounted } from "@/lib/format/number-text";

/** Texts of the shared components, by the component. */
export const UI_WORDS = {
  chartCanvas: {
    hideNumbers: "Hide the numbers",
    numbers: "Numbers",
    png: "PNG",
    svg: "SVG",
    stamp: (page: string, address: string, moment: string) => `${page}, ${address}, saved ${moment} UTC`,
    csv: "CSV",
    numbersOf: (caption: string) => `Numbers of ${caption}`,
    lastOf: (caption: string, count: number, count2: number) => `${caption}, the last ${count} of ${count2}`,
  },
  cardFold: {
    showAll: (all: number) => `Show all ${all}`,
  },
  dataTable: {
    saveAsCsv: "Save as CSV",
  },
  deviationBar: {
    noReadingYet: "no reading yet",
    reading: (value: string) => `reading ${value}`,
    limits: (lower: string, read: string) => `Limits ${lower}, ${read}`,
    limit: "limit",
    hatchedNotProven: "hatched: not proven",
  },
  dockAnswer: {
    shipScan: "Ship scan",
    go: "Go",
    stop: "Stop",
    again: "Scan again",
    askedAndAnswered: (answered: string) => `asked and answered ${answered}`,
  },
  entryForm: {
    none: "none",
    choose: "choose",
    notDone: "Not done",
  },
  errorNotice: {
    reference: (reference: ReactNode) => <>Reference {reference}</>,
  },
  explainedValue: {
    howWasComputed: "How this was computed",
    how: "how",
    from: "from",
    by: "by",
    uncertainty: "uncertainty",
  },
  journalLinks: {
    theStream: "the stream",
    the: (subject: string) => `the ${subject}`,
    thePerson: "the person",
  },
  meaningList: {
    howWasComputed: "How this was computed",
    noUncertaintyIsStatedFor: "No uncertainty is stated for it.",
    uncertaintyK2: (uncertainty: string) => `Uncertainty (k = 2): ${uncertainty}`,
  },
  messageCount: {
    forMe: "For me",
    waiting: "waiting",
  },
  offsetDrawing: {
    ndsAxisFromDsAxis: (where: string, zone: string, side: string) =>
      `NDS axis ${where} from the DS axis, ${zone} mm, ${side}`,
  },
  pageFrame: {
    whatToDo: "What to do",
  },
  readingTable: {
    goToReading: (head: string, sub: string, cell: string) => `${head} ${sub} ${cell}, go to this reading`,
    notRead: "not read",
  },
  searchField: {
    search: "Search",
    searchBySerial: "Search by serial, batch or stream",
  },
  shellDrawing: {
    driveSide: "the drive side",
    nonDriveSide: "the non-drive side",
    shellInSectionAlongAxis: (view: string, asked: string) =>
      `Shell in section along its axis, drive side left, and seen from ${view}.${asked}`,
    askedFor: (asked: string, detail: string) => ` Asked for: ${asked}, ${detail}.`,
  },
  ocCurve: {
    nonconformingInLot: "nonconforming in the lot",
  },
  signatureFields: {
    reason: "reason",
    yourPasswordAsSignature: "your password, as signature",
  },
  sweepPlot: {
    withoutClosingReading: "without a closing reading",
    notClosedYet: "not closed yet",
    closesWithin: (closureUm: string, closureLimitUm: string) => `closes within ${closureUm}${closureLimitUm}`,
    limit: (closureLimitUm: string) => `, limit ${closureLimitUm}`,
    readings: (title: string, side: string, count: number, closure: string) =>
      `${title}, ${side}: ${count} readings, ${closure}`,
  },
  targetPlot: {
    partOfFrames: "95 % of frames",
    targetPlot: (side: string, frames: number, zoneMm: string, meanMm: string) =>
      `Target plot, ${side}: ${formatCounted(frames, "frame")} outside the zone of diameter ${zoneMm} mm${meanMm}`,
    meanOffset: (meanMm: string) => `, mean offset ${meanMm}`,
    frames: (count: number) => formatCounted(count, "frame"),
    dashed: (ellipseName: string) => `dashed: ${ellipseName}`,
  },
  themeChoice: {
    device: "Device",
    day: "Day",
    night: "Night",
    theme: "Theme",
  },
  titleBlock: {
    projection: "projection",
    firstAngleProjection: "first-angle projection",
  },
  useAction: {
    serverDidNotAnswer:
      "The server did not answer, so it is not known whether this was done. What you typed is still here: look at what it says now, then try again.",
  },
  workAreaRail: {
    workAreas: "Work areas",
    shellgate: "Shellgate",
    settings: "Settings",
  },
  workAreas: {
    today: "Today",
    whatNeedsMe: "What needs me now?",
    whatWaits: "What waits, since when, the next step and whose it is; the day of each line.",
    line: "Line",
    whatDoIMeasureNext: "What do I measure next, and is it good?",
    scanFrame: "Scan a frame, key the plan, read the verdict.",
    drift: "Drift",
    whatIsMoving: "What is moving, and what do I do?",
    streamsOfEveryLine: "Streams of every line, signals, what to adjust and by how much.",
    gate: "Gate",
    mayShip: "May it ship, and if not, why?",
    heldBatchesWithTheirReasons: "Held batches with their reasons, decisions, the ship scan at the dock.",
    gauges: "Gauges",
    wasItRight: "Was the instrument right when it measured?",
    statesOfGauges: "States, zero checks and calibrations, what rests on a gauge.",
    setup: "Setup",
    byWhichDrawing: "By which drawing, plan and gauge?",
    drawingsAndTheirLimits: "Drawings and their limits, measuring plans, lines, stations, people.",
  },
};
