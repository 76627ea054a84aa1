import { latestShiftStart } from "@/lib/format/shift-start";
import type { FirstOffState } from "@/lib/schemas/first-off";
import type { StationKit, StationPlan } from "@/lib/schemas/station-package";
import type { Verdict } from "@/lib/quality/verdict-words";

/** A first-off that this device measured. */
export type OwnFirstOff = {
  /** From when on a first-off was asked, ISO 8601. */
  readonly since: string;
  readonly inspectionId: string;
  readonly serial: string;
  readonly batch: string;
  readonly verdict: Verdict;
  readonly measuredAt: string;
};

/** How the line stands with its first-off, as far as this device knows. */
export type FirstOffNow =
  | { readonly kind: "free" }
  /** The next frame stands for the line; `failed` is one that was no basis for a release. */
  | { readonly kind: "asked"; readonly why: string; readonly since: string; readonly failed: string | null }
  /** A good first-off waits for an engineer. */
  | { readonly kind: "waits"; readonly why: string; readonly since: string; readonly serial: string };

const FREE: FirstOffNow = { kind: "free" };

function shiftStarts(kit: StationKit): readonly string[] {
  return kit.plans.flatMap(({ settings }) => (settings?.firstOff?.each === "shift" ? settings.firstOff.starts : []));
}

/** What the server said, or, where a shift began since, that its first-off is due. */
function askedNow(kit: StationKit, nowMs: number): FirstOffState {
  const said: FirstOffState = kit.firstOff ?? { state: "not asked" };
  const starts = shiftStarts(kit);
  if (starts.length === 0) return said;
  const began = latestShiftStart(new Date(nowMs), starts, kit.zone ?? "UTC");
  const isNewer = said.state === "not asked" || Date.parse(said.since) < began.getTime();
  return isNewer ? { state: "due", why: "start of the shift", since: began.toISOString() } : said;
}

/**
 * How the line stands with its first-off now: what the server said last, the shifts that began since by the device's clock,
 * and what this device measured itself. Events that the server knows of reach a device only with the network.
 */
export function firstOffNow(kit: StationKit | null, own: OwnFirstOff | null, nowMs: number): FirstOffNow {
  if (kit === null) return FREE;
  const said = askedNow(kit, nowMs);
  if (said.state === "not asked" || said.state === "released") return FREE;
  const { why, since } = said;
  const measured = said.state === "waiting" ? said.frame : own?.since === since ? own : null;
  if (measured === null) return { kind: "asked", why, since, failed: null };
  if (measured.verdict === "conforms") return { kind: "waits", why, since, serial: measured.serial };
  // The server may know of a bad one only while this device has a good one on its way.
  if (own !== null && own.since === since && own.verdict === "conforms")
    return { kind: "waits", why, since, serial: own.serial };
  return { kind: "asked", why, since, failed: measured.serial };
}

/** The plan by which a first-off is measured: the fuller one that its plan names, where the device has it. */
export function firstOffPlan(kit: StationKit | null, plan: StationPlan): StationPlan {
  const key = plan.settings?.firstOff?.plan;
  const fuller = kit?.plans.find((one) => one.planKey === key && one.drawingId === plan.drawingId);
  return fuller ?? plan;
}
