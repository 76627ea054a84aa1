import "server-only";
import type { FrameState } from "@/lib/quality/frame-state";
import type { ToldCharacteristic } from "@/lib/quality/judge-frame";
import type { Verdict } from "@/lib/quality/verdict-words";
import type { ListedInspection } from "../evidence/earlier-inspections";
import type { InspectionRecorded, JudgedInspection } from "./recorded";

/** A frame as it stands inside the transaction. */
export type FrameNow = {
  readonly id: string;
  readonly serial: string;
  readonly state: FrameState;
  readonly inspections: number;
  readonly leaseDeviceId: string | null;
  readonly leasedAt: Date | null;
  readonly evidenceFrom: Date | null;
  readonly shippedAt: Date | null;
  readonly batchId: string;
  readonly batchKey: string;
  readonly batchHeld: boolean;
  readonly drawingId: string;
  /** The plan of its batch. */
  readonly planId: string;
  /** The line of its batch. */
  readonly lineKey: string;
};

/** An inspection that is here already. */
export type KnownInspection = { readonly contentHash: Buffer; readonly serial: string; readonly verdict: Verdict };

/** An inspection that will be written, with what it makes of its frame. */
export type PlacedInspection = {
  readonly kind: "placed";
  readonly item: JudgedInspection;
  readonly frame: FrameNow;
  readonly ordinal: number;
  /** Verdict of all valid inspections of the frame, every operation. */
  readonly verdict: Verdict;
  /** Why it is measured again; given by Shellgate itself after a rework. */
  readonly reason: string | null;
  readonly reasons: readonly ToldCharacteristic[];
  /** The inspection as those see it that come after it in the same transaction. */
  readonly listed: ListedInspection;
  /** The evidence is against letting the frame pass. */
  readonly holds: boolean;
  /** The frame had shipped before and its evidence is bad now. */
  readonly escape: string | null;
  readonly warnings: readonly string[];
};

export type RepeatedInspection = { readonly kind: "repeated"; readonly outcome: InspectionRecorded };
