import { VERDICTS } from "@/lib/quality/verdict-words";
import type { StationPlan } from "@/lib/schemas/station-package";
import type { KeptPhoto, QueuedCheck, QueuedInspection } from "../device/device-database";
import type { KeyingSession } from "../device/keying-session";

type Fields = Readonly<Record<string, unknown>>;

/** What a field holds: a text, a number, or a list. */
type Kind = "text" | "number" | "list";

function fieldsOf(value: unknown): Fields | null {
  return typeof value === "object" && value !== null && !Array.isArray(value) ? (value as Fields) : null;
}

const IS: Readonly<Record<Kind, (value: unknown) => boolean>> = {
  text: (value) => typeof value === "string" && value !== "",
  number: (value) => typeof value === "number" && Number.isFinite(value),
  list: (value) => Array.isArray(value),
};

function has(fields: Fields | null, kinds: Readonly<Record<string, Kind>>): fields is Fields {
  return fields !== null && Object.entries(kinds).every(([name, kind]) => IS[kind](fields[name]));
}

function isValueOrNull(value: unknown): boolean {
  return value === null || IS.number(value);
}

const STATES: readonly unknown[] = ["waiting", "refused", "aside"];
const VERDICT_WORDS: readonly unknown[] = VERDICTS;

const REFUSAL = { code: "text", message: "text", at: "number" } as const;
const INSPECTION = {
  id: "text",
  serial: "text",
  stationId: "text",
  planRevisionId: "text",
  deviceTime: "text",
  readings: "list",
} as const;
const CHECK = {
  id: "text",
  gauge: "text",
  ring: "text",
  deviceId: "text",
  occasion: "text",
  serials: "list",
  certifiedMm: "number",
  limitUm: "number",
  readingMm: "number",
  driftUm: "number",
  deviceAt: "number",
} as const;

function isQueued(entry: Fields): boolean {
  const refusal = fieldsOf(entry.refusal);
  const isRefusal = entry.refusal === null || (has(refusal, REFUSAL) && fieldsOf(refusal.details) !== null);
  return IS.number(entry.queuedAt) && STATES.includes(entry.state) && isRefusal;
}

/** An entry of a queue, whole enough to be shown, sent and decided about. */
export function isWholeEntry(value: unknown): value is QueuedInspection | QueuedCheck {
  const entry = fieldsOf(value);
  if (entry === null || !isQueued(entry)) return false;
  if ("check" in entry) return has(fieldsOf(entry.check), CHECK);
  const inspection = fieldsOf(entry.inspection);
  if (!has(inspection, INSPECTION) || !VERDICT_WORDS.includes(entry.deviceVerdict)) return false;
  return (inspection.readings as readonly unknown[]).every(isValueOrNull);
}

const SESSION = {
  id: "text",
  serial: "text",
  batch: "text",
  stationId: "text",
  planRevisionId: "text",
  startedAt: "number",
  readings: "list",
  superseded: "list",
} as const;

function isKeptReading(value: unknown): boolean {
  if (value === null) return true;
  const reading = fieldsOf(value);
  return reading !== null && isValueOrNull(reading.value) && IS.text(reading.state) && IS.number(reading.offsetMs);
}

/** A started frame, whole enough to be gone on with; a question or a correction that was open is asked anew. */
export function wholeSession(value: unknown): KeyingSession | null {
  const session = fieldsOf(value);
  if (!has(session, SESSION) || typeof session.remark !== "string") return null;
  const readings = session.readings as readonly unknown[];
  if (readings.length === 0 || !readings.every(isKeptReading)) return null;
  const open = readings.indexOf(null);
  const last = open < 0 ? readings.length - 1 : open;
  return {
    ...(value as KeyingSession),
    asked: last,
    last: null,
    question: null,
    again: null,
    correction: null,
    refusal: null,
  };
}

const PHOTO = { id: "text", inspectionId: "text", serial: "text", jpeg: "text", takenAt: "number" } as const;

export function isWholePhoto(value: unknown): value is KeptPhoto {
  return has(fieldsOf(value), PHOTO);
}

const PLAN = { planRevisionId: "text", planId: "text", title: "text", revision: "text", readingNames: "list" } as const;

/** A plan by which a started frame was keyed. */
export function isWholePlan(value: unknown): value is StationPlan {
  const plan = fieldsOf(value);
  return has(plan, PLAN) && has(fieldsOf(plan.drawing), { characteristics: "list", key: "text" });
}
