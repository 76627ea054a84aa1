import "server-only";
import type { ToldCharacteristic } from "@/lib/quality/judge-frame";
import type { Verdict } from "@/lib/quality/verdict-words";
import type { ListedInspection } from "../evidence/earlier-inspections";
import { batchColumns } from "../db/columns/batch";
import { frameColumns } from "../db/columns/frame";
import { lineColumns } from "../db/columns/line";
import { measuringPlanColumns } from "../db/columns/measuring-plan";
import { type RowOf, together } from "../db/columns/table-columns";
import type { InspectionRecorded, JudgedInspection } from "./recorded";

/** Of a frame `f`, its batch `b`, the batch's plan `p` and line `l`. */
export const frameNowColumns = together(
  frameColumns("f", [
    "id",
    "serial",
    "state",
    "inspections",
    "leaseDeviceId",
    "leasedAt",
    "evidenceFrom",
    "shippedAt",
    "batchId",
  ]),
  batchColumns("b", { batchKey: "key" }),
  measuringPlanColumns("p", { planId: "id", drawingId: "drawingId" }),
  lineColumns("l", { lineKey: "key" }),
);

/** A frame as it stands inside the transaction, with plan and line of its batch. */
export type FrameNow = RowOf<typeof frameNowColumns> & { readonly batchHeld: boolean };

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
