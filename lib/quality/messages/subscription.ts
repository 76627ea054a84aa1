import type { EventKind, PlantEvent } from "./event-kinds";

export const CHANNELS = ["app", "mail"] as const;
export type Channel = (typeof CHANNELS)[number];

export const TIMINGS = ["at once", "shift start"] as const;
export type Timing = (typeof TIMINGS)[number];

/** Who is told: all of a role, or one person. */
export type Whom = { readonly role: string } | { readonly personId: string };

/** Minutes of the plant's day between which nothing is mailed; they may go over midnight. */
export type QuietHours = { readonly from: number; readonly until: number };

export type Subscription = {
  readonly whom: Whom;
  readonly kinds: readonly EventKind[];
  /** Null: all lines. */
  readonly lineId: string | null;
  readonly channel: Channel;
  readonly timing: Timing;
  readonly quiet: QuietHours | null;
};

/** Whether a subscription, a person's or a program's, is about an event. */
export function wants(
  { kinds, lineId }: Pick<Subscription, "kinds" | "lineId">,
  event: Pick<PlantEvent, "kind" | "lineId">,
): boolean {
  return kinds.includes(event.kind) && (lineId === null || event.lineId === null || lineId === event.lineId);
}

const inApp = (role: string, ...kinds: EventKind[]): Subscription => ({
  whom: { role },
  kinds,
  lineId: null,
  channel: "app",
  timing: "at once",
  quiet: null,
});
const byMail = (role: string, ...kinds: EventKind[]): Subscription => ({ ...inApp(role, ...kinds), channel: "mail" });

/**
 * What holds until a plant enters its own. Few on purpose: by mail only what stops shipping or went wrong on the road, each to who can
 * act (common practice, no source).
 */
export const DEFAULT_SUBSCRIPTIONS: readonly Subscription[] = [
  inApp("engineer", "batch.held", "escape.opened", "gauge.failed", "gauge.due", "device.silent"),
  inApp("engineer", "case.opened", "case.back", "case.forecast"),
  inApp("supplier_manager", "batch.held", "escape.opened", "decision.waiting"),
  inApp("administrator", "job.failed", "backup.failed", "backup.old"),
  byMail("engineer", "batch.held", "escape.opened", "gauge.failed"),
  byMail("supplier_manager", "batch.held", "escape.opened"),
  byMail("administrator", "backup.failed", "backup.old"),
];
