/** What a plant can be told of, by the name under which programs hear of it. Others join as a row. */
export const EVENT_KINDS = [
  "batch.held",
  "escape.opened",
  "gauge.failed",
  "gauge.due",
  "device.silent",
  "decision.waiting",
  "job.failed",
  "backup.failed",
  "backup.old",
  "case.opened",
  "case.back",
  "case.forecast",
] as const;
export type EventKind = (typeof EVENT_KINDS)[number];

export function isEventKind(topic: string): topic is EventKind {
  return (EVENT_KINDS as readonly string[]).includes(topic);
}

/** Something that happened in a plant. */
export type PlantEvent = {
  /** The same for ever: by it somebody who is told twice knows that it is the same. */
  readonly id: string;
  readonly kind: EventKind;
  /** What it is about, as "batch:KEY": events of one subject are told in their order. */
  readonly subject: string;
  /** Null where it belongs to no line, so that everybody who wants the kind is told. */
  readonly lineId: string | null;
  /** Milliseconds since 1970. */
  readonly atMs: number;
};
