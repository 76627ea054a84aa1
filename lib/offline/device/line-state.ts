import type { Seat } from "@/lib/core/metrology/reading-name";
import type { DecimalSign } from "@/lib/format/number-text";
import type { RecordInspection } from "@/lib/schemas/inspection";
import type { StationBatch, StationFrame, StationItem, StationKit, StationPlan } from "@/lib/schemas/station-package";
import type { ClockSkew } from "./clock-skew";
import type { KeptPhoto, SentCheck, SentInspection, StoredCheck, StoredQueued } from "./device-database";
import type { OwnFirstOff } from "./first-off";
import type { GaugeDoubts } from "./gauge-doubts";
import type { KeyingSession } from "./keying-session";
import type { DeviceZeroCheck, GaugeUse } from "./zero-check";

/** What is chosen on the device and remembered. */
export type DeviceSettings = {
  readonly stationId: string | null;
  /** Where the inspector stands; the station's own side until chosen otherwise. */
  readonly side: Seat;
  readonly decimal: DecimalSign;
  readonly muted: boolean;
  /** A bore gauge shows sizes, or deviations from its setting ring. */
  readonly boreEntry: "size" | "deviation";
  /** Unit in which indicators, and bore gauges that show deviations, are read. */
  readonly smallUnit: "µm" | "mm";
  /** Gauge chosen for a kind of reading where the station has several. */
  readonly gauges: Readonly<Record<string, string>>;
  readonly batch: string | null;
};

export const FIRST_SETTINGS: DeviceSettings = {
  stationId: null,
  side: "ds",
  decimal: ".",
  muted: false,
  boreEntry: "size",
  smallUnit: "µm",
  gauges: {},
  batch: null,
};

/** A frame that is about to be started and needs a word first. */
export type PendingStart = {
  readonly serial: string;
  readonly batch: string;
  readonly why: "measured before" | "other batch" | "other line" | "unfinished" | "first-off" | "gauge";
  readonly reason: string | null;
  /** What was answered already; of gauges and zero checks with the gauge's key. */
  readonly agreed: readonly string[];
  /** A gauge at hand whose readings prove nothing, and why. */
  readonly gauge?: { readonly key: string; readonly doubt: string };
  /** Key of the line that the frame belongs to, where it is another one than the station's. */
  readonly line?: string;
  /** Why it is measured although the line waits. */
  readonly beforeRelease?: string;
};

/** A scan on its way to a started frame. */
export type StartRequest = Pick<PendingStart, "serial" | "reason" | "agreed" | "beforeRelease">;

/** A zero check that is asked for or shown. */
export type ZeroEntry = {
  readonly gauge: string;
  readonly occasion: DeviceZeroCheck["occasion"];
  /** Why it is due; null where somebody wants it. */
  readonly why: string | null;
  /** The decimal sign is missing: this was probably meant, mm. */
  readonly question: number | null;
  readonly refusal: string | null;
  /** The failed one whose consequences are shown. */
  readonly failed: DeviceZeroCheck | null;
  /** The scan that waits behind it. */
  readonly then: StartRequest | null;
};

/** The frame whose verdict is shown. */
export type FinishedFrame = {
  readonly inspection: RecordInspection;
  readonly plan: StationPlan;
  readonly startedAt: number;
  readonly position: number | null;
  /** What this device knew against the gauges. */
  readonly gauges: GaugeDoubts;
  /** Why it was withdrawn, as devices with an earlier version kept it. */
  readonly withdrawn?: string;
};

/** At which station and on which day of the plant somebody confirmed how sweeps begin and go on. */
export type SweepDirections = {
  readonly stationId: string;
  readonly day: string;
  readonly answered: readonly string[];
};

export type Network = "unknown" | "there" | "away" | "signed out";

/** A short answer to the ear and the hand. */
export type Feedback = { readonly tone: "good" | "out" | "question"; readonly count: number };

export type LineState = {
  readonly deviceId: string;
  /** What people call the device: as typed here, then as the server has it. */
  readonly deviceName: string | null;
  readonly settings: DeviceSettings;
  /** Stations to choose from, once asked for. */
  readonly stations: readonly StationItem[] | null;
  readonly kit: StationKit | null;
  readonly kitAt: number | null;
  /** Every plan revision that was ever worked by on this device. */
  readonly plans: Readonly<Record<string, StationPlan>>;
  readonly session: KeyingSession | null;
  /** What of the frame in hand is on the disk, while its last reading is being written; null when all of it is. */
  readonly keptSession: KeyingSession | null;
  /** Other frames that were started and are not finished. */
  readonly aside: readonly KeyingSession[];
  readonly finished: FinishedFrame | null;
  readonly queue: readonly StoredQueued[];
  readonly sent: readonly SentInspection[];
  /** Zero checks that wait in the queue, and the newest that the server has. */
  readonly checks: readonly StoredCheck[];
  readonly sentChecks: readonly SentCheck[];
  readonly gaugeUse: Readonly<Record<string, GaugeUse>>;
  readonly zero: ZeroEntry | null;
  /** Gauges in doubt that somebody wants to use all the same: the doubt by the gauge's key. */
  readonly acceptedGauges: Readonly<Record<string, string>>;
  /** The frame that stands for the line as this device measured it, until the server says how the line stands. */
  readonly ownFirstOff: OwnFirstOff | null;
  readonly directions: SweepDirections | null;
  /** Photos that the server has not taken, the picture left out. */
  readonly photos: readonly Omit<KeptPhoto, "jpeg">[];
  readonly inspector: { readonly code: string; readonly name: string } | null;
  readonly pending: PendingStart | null;
  readonly network: Network;
  /** Why the server takes nothing from this device; null while it is in use. */
  readonly revoked: string | null;
  /** Why the server has nothing for this device's station; null while it is in use. What waits is not sent meanwhile. */
  readonly stationClosed: string | null;
  /** Since when the network is away. */
  readonly awaySince: number | null;
  readonly skew: ClockSkew | null;
  readonly notice: { readonly tone: "error" | "caution" | "done"; readonly text: string } | null;
  readonly feedback: Feedback | null;
  /** The build that the server runs, where it is not the one on this device. */
  readonly newBuild: string | null;
  readonly storage: {
    readonly persisted: boolean | null;
    readonly usedBytes: number | null;
    readonly quotaBytes: number | null;
  };
};

/** The server's time at a moment of the device's clock, as far as it is known: shifts begin and calibrations end by it. */
export function serverTimeMs({ skew }: Pick<LineState, "skew">, deviceMs: number): number {
  return deviceMs - (skew?.skewMs ?? 0);
}

/** A shift of readings and photos needs less than this, bytes. */
const ROOM_FOR_A_SHIFT = 50e6;

/** Less room is left than a shift may need. */
export function isStorageShort({ usedBytes, quotaBytes }: LineState["storage"]): boolean {
  return usedBytes !== null && quotaBytes !== null && quotaBytes - usedBytes < ROOM_FOR_A_SHIFT;
}

/** Every zero check that this device made and still has, oldest first. */
export function ownChecks({ checks, sentChecks }: Pick<LineState, "checks" | "sentChecks">): DeviceZeroCheck[] {
  return [...sentChecks, ...checks].map(({ check }) => check);
}

/** A frame that the device knows, with its batch. */
export function findFrame(kit: StationKit | null, serial: string): { batch: string; frame: StationFrame } | null {
  for (const { batch, frames } of kit?.frames ?? []) {
    const frame = frames.find((one) => one.serial === serial);
    if (frame) return { batch, frame };
  }
  return null;
}

/** The plan by which a frame of the batch is measured now. */
export function planOfBatch(kit: StationKit | null, batch: string): StationPlan | null {
  const found = kit?.batches.find((one) => one.key === batch);
  return kit?.plans.find((plan) => plan.planId === found?.planId) ?? null;
}

/** How many frames of a batch the plan asks for, and how many of those are measured. */
export type BatchCount = { readonly planned: number; readonly measured: number };

/** Counted by the plan where the frames are on this device, else all frames of the batch. */
export function countBatch(kit: StationKit | null, batch: StationBatch): BatchCount {
  const frames = kit?.frames.find((one) => one.batch === batch.key)?.frames;
  if (frames === undefined) return { planned: batch.frames, measured: batch.measured };
  const planned = frames.filter((frame) => frame.planned !== false);
  return { planned: planned.length, measured: planned.filter((frame) => frame.inspections > 0).length };
}
