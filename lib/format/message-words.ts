import type { EventFacts } from "../quality/messages/event-facts";
import type { EventKind } from "../quality/messages/event-kinds";
import { formatDay, formatMoment } from "./date-text";
import { formatCounted, formatDeviationUm, formatUm } from "./number-text";

/** What a person is told: what happened, what to do, and the page that opens it. */
export type MessageWords = {
  readonly title: string;
  readonly happened: string;
  readonly todo: string;
  /** Path of the page, to be put behind the plant's address. */
  readonly path: string;
};

/** Each kind as a choice in Setup. */
export const KIND_WORDS = {
  "batch.held": "a batch is held",
  "escape.opened": "a shipped frame is in doubt",
  "gauge.failed": "a gauge failed its zero check",
  "gauge.due": "a gauge is due for calibration",
  "device.silent": "a tablet is silent with readings on it",
  "decision.waiting": "a held batch waits for a decision",
  "job.failed": "work in the background failed",
  "backup.failed": "a backup failed",
  "backup.old": "the newest backup is old",
  "case.opened": "a process has changed: a case is open",
  "case.back": "a case came back",
  "case.forecast": "a trend meets its limit before the planned change",
} as const satisfies Record<EventKind, string>;

const pageOf = (area: string, key: string): string => `${area}/${encodeURIComponent(key)}`;

type Setting = { readonly zone: string };

function heldWords(facts: Extract<EventFacts, { kind: "batch.held" }>): MessageWords {
  const { batch, line, supplier, reasons } = facts;
  const why = reasons.length === 0 ? "It may have been released since." : reasons.join(" ");
  return {
    title: `Batch ${batch} is held`,
    happened: `Batch ${batch} of ${supplier}, line ${line}, was held automatically. ${why}`,
    todo: "No frame of it ships. Open the batch, read the reasons, and decide what is done with the frames. Somebody who did not measure them signs.",
    path: pageOf("/gate/batches", batch),
  };
}

function failedWords(facts: Extract<EventFacts, { kind: "gauge.failed" }>): MessageWords {
  const { gauge, driftUm, limitUm, heldFrames, heldBatches, escapes } = facts;
  const held =
    heldFrames === 0
      ? "No frame is held by it."
      : `${formatCounted(heldFrames, "frame")} of ${formatCounted(heldBatches, "batch", "batches")} are held by it.`;
  const shipped = escapes === 0 ? "" : ` ${formatCounted(escapes, "shipped frame")} in doubt.`;
  return {
    title: `Gauge ${gauge} failed its zero check`,
    happened: `Gauge ${gauge} showed its ring ${formatDeviationUm(driftUm, 1)} off; ${formatUm(limitUm, 1)} is the limit. What it measured since its last good check is not proven. ${held}${shipped}`,
    todo: "Take the gauge out of use, clean it and check it again, or have it repaired. Measure the frames again with another gauge.",
    path: pageOf("/setup/gauges", gauge),
  };
}

type CaseEvent = Extract<EventFacts, { kind: "case.opened" | "case.back" | "case.forecast" }>;

function caseMessage(facts: CaseEvent): MessageWords {
  const { id, number, line, what, likely, serial } = facts;
  const path = pageOf("/drift/cases", id);
  switch (facts.kind) {
    case "case.opened":
      return {
        title: `Case ${number} is open on ${line}`,
        happened: `${what}. Found at ${serial}. ${likely}`,
        todo: "Open the case, take it, and walk to the machine: measure what it asks for before you change anything. Lock the machine out before you reach into it.",
        path,
      };
    case "case.back":
      return {
        title: `Case ${number} came back on ${line}`,
        happened: `${what}, again since ${serial}. ${likely}`,
        todo: "Open the case and read what was done the last time: it did not last, or it was something else.",
        path,
      };
    case "case.forecast":
      return {
        title: `Change the tool of ${line} earlier`,
        happened: `${what}. The trend meets its limit in about ${formatCounted(facts.framesToLimit, "frame")}; the tool is usually changed in ${formatCounted(facts.framesToChange, "frame")}.`,
        todo: "Plan the change before that, and measure the first frame after it. Lock the machine out before you reach into it.",
        path,
      };
  }
}

/**
 * What is said of one event.
 *
 * @param setting.zone - of the plant, by whose clock moments are written
 */
export function messageWords(facts: EventFacts, { zone }: Setting): MessageWords {
  switch (facts.kind) {
    case "batch.held":
      return heldWords(facts);
    case "escape.opened":
      return {
        title: `Shipped frame ${facts.serial} is in doubt`,
        happened: `Frame ${facts.serial} of batch ${facts.batch}, line ${facts.line}, has left the plant. ${facts.reason}`,
        todo: "Find out where the frame is and keep it from being ridden until somebody has looked at its record. A frame that is wrong can hurt its rider.",
        path: pageOf("/frames", facts.serial),
      };
    case "gauge.failed":
      return failedWords(facts);
    case "gauge.due":
      return {
        title: facts.overdue ? `Gauge ${facts.gauge} is out of calibration` : `Gauge ${facts.gauge} is due soon`,
        happened: `The calibration of gauge ${facts.gauge} ${facts.overdue ? "ended" : "ends"} on ${formatDay(facts.dueAt, { zone })}. What is measured after it is not proven and holds.`,
        todo: "Have it calibrated and enter the certificate in Setup, Gauges; use another gauge until then.",
        path: pageOf("/setup/gauges", facts.gauge),
      };
    case "device.silent":
      return {
        title: `${facts.device} is silent, ${formatCounted(facts.waiting, "inspection")} on it`,
        happened: `${facts.device}${facts.station === null ? "" : ` at ${facts.station}`} was last heard of ${formatMoment(facts.lastSeenAt, { zone })} with ${formatCounted(facts.waiting, "inspection")} saved on it that the server does not have.`,
        todo: "Look whether it is switched on and has the network. Do not clear its browser: the readings are on it only.",
        path: "/setup/devices",
      };
    case "decision.waiting":
      return {
        title: `Batch ${facts.batch} waits for a decision`,
        happened: `Batch ${facts.batch}, line ${facts.line}, is held since ${formatMoment(facts.heldAt, { zone })}, and nobody has decided about it.`,
        todo: "Open the batch and sign what is done with its frames, or have them measured again.",
        path: pageOf("/gate/batches", facts.batch),
      };
    case "job.failed":
      return {
        title: `Work in the background failed: ${facts.job}`,
        happened: `${facts.job} was tried as often as it may be and failed: ${facts.error}`,
        todo: "Open the list, mend what it says, and press try again. Nothing that was recorded is lost by it.",
        path: "/setup/jobs",
      };
    case "backup.failed":
      return {
        title: "A backup could not be written",
        happened: `Backup ${facts.backup} was tried as often as it may be and could not be written: ${facts.error}`,
        todo: "Mend what it says and press the key that writes one now. Until one is written, what was recorded since the last one is on this machine only.",
        path: "/setup/backups",
      };
    case "backup.old":
      return {
        title: facts.writtenAt === null ? "There is no backup" : "The newest backup is old",
        happened:
          facts.writtenAt === null
            ? "No backup of this plant was ever written by the schedule, or by the key in Setup."
            : `The newest backup was written ${formatMoment(facts.writtenAt, { zone })}. What was recorded since is on this machine only.`,
        todo: "Look whether a worker runs and the disk has room, and press the key that writes one now.",
        path: "/setup/backups",
      };
    case "case.opened":
    case "case.back":
    case "case.forecast":
      return caseMessage(facts);
  }
}

const STORM_TITLES = {
  "batch.held": "batches are held",
  "escape.opened": "shipped frames are in doubt",
  "gauge.failed": "gauges failed their zero check",
  "gauge.due": "gauges are due for calibration",
  "device.silent": "tablets are silent with readings on them",
  "decision.waiting": "held batches wait for a decision",
  "job.failed": "pieces of work in the background failed",
  "backup.failed": "backups could not be written",
  "backup.old": "backups are old",
  "case.opened": "cases are open",
  "case.back": "cases came back",
  "case.forecast": "trends meet their limits before the planned change",
} as const satisfies Record<EventKind, string>;

const STORM_PATHS = {
  "batch.held": "/gate?state=held",
  "escape.opened": "/gate/escapes",
  "gauge.failed": "/setup/gauges",
  "gauge.due": "/setup/gauges",
  "device.silent": "/setup/devices",
  "decision.waiting": "/gate?state=held",
  "job.failed": "/setup/jobs",
  "backup.failed": "/setup/backups",
  "backup.old": "/setup/backups",
  "case.opened": "/drift",
  "case.back": "/drift",
  "case.forecast": "/drift",
} as const satisfies Record<EventKind, string>;

const MOST_NAMED = 10;

/**
 * What is said of many events of one kind.
 *
 * @param names - the subjects without their kind, each once, the first first
 * @param events - how many there were, at least two
 */
export function stormWords(kind: EventKind, names: readonly string[], events: number): MessageWords {
  const named = names.slice(0, MOST_NAMED).join(", ");
  const more = names.length > MOST_NAMED ? ` and ${names.length - MOST_NAMED} more` : "";
  return {
    title: `${events} ${STORM_TITLES[kind]}`,
    happened: `Within a short time: ${named}${more}. So many at once often have one cause: a gauge, a fixture, a plan or a tool.`,
    todo: "Look for what they have in common first. More of the same join this message and are not mailed one by one.",
    path: STORM_PATHS[kind],
  };
}
