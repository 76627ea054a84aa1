import { isState, LEFT_STATES, UNMEASURED_STATES, type FrameState } from "./frame-state";
import type { ToldCharacteristic } from "./judge-frame";
import type { LotJudgement } from "./lot-judgement";

/** Why a frame may not ship, or what has to be known although it may: a code and its numbers. */
export type ShipReason =
  /** `near`: serials of frames that it may have been meant to be. */
  | { readonly code: "unknown"; readonly serial: string; readonly near: readonly string[] }
  /** `at` null where nobody knows when. */
  | { readonly code: "shipped"; readonly at: Date | null }
  /** evidence-against: it has left the plant before, and its readings since are against it. */
  | { readonly code: "held" | "evidence-against"; readonly against: FrameToShip["reasons"] }
  | { readonly code: "in-measurement"; readonly deviceId: string }
  | { readonly code: "not-measured" | "in-rework" | "scrapped" | "returned" }
  | { readonly code: "concession-expired"; readonly at: Date }
  | { readonly code: "batch-held"; readonly batch: string; readonly at: Date }
  | ({ readonly code: "batch-incomplete"; readonly batch: string } & Pick<
      BatchToShip,
      "missing" | "asked" | "bySample" | "isDrawn"
    >)
  | ({ readonly code: "by-sample"; readonly batch: string } & Pick<
      BatchToShip,
      "measured" | "frames" | "found" | "isRiskTaken" | "lot"
    >)
  | ({ readonly code: "sample-failed"; readonly batch: string } & Pick<BatchToShip, "measured" | "found" | "lot">)
  | { readonly code: "capability"; readonly because: readonly string[] }
  | { readonly code: "on-concession" | "regraded" | "released" };

export type FrameToShip = {
  readonly serial: string;
  readonly state: FrameState;
  readonly verdict: string | null;
  readonly leaseDeviceId: string | null;
  readonly concessionUntil: Date | null;
  readonly shippedAt: Date | null;
  /** Characteristics that do not conform. */
  readonly reasons: readonly Pick<
    ToldCharacteristic,
    "name" | "seat" | "value" | "unit" | "verdict" | "lower" | "upper" | "reason"
  >[];
};

export type BatchToShip = {
  readonly key: string;
  readonly heldAt: Date | null;
  readonly frames: number;
  /** Frames that the plan asks to measure. */
  readonly asked: number;
  /** Those of them that have no result yet. */
  readonly missing: number;
  /** False while the plan asks for a drawn sample and none was drawn. */
  readonly isDrawn: boolean;
  /** Frames measured, for a batch that is judged by a sample. */
  readonly measured: number;
  readonly bySample: boolean;
  /** Measured frames of a sampled batch that did not conform, whatever became of them. */
  readonly found: number;
  /** The batch by a plan of its own; null where its measuring plan alone says what is measured. */
  readonly lot: LotJudgement | null;
  /** By the policy a batch that its plan does not accept keeps its unmeasured frames. */
  readonly isPlanKept: boolean;
  /** A signed decision takes the risk of those that nobody measured. */
  readonly isRiskTaken: boolean;
  /** Why the streams do not speak for those that nobody measured, each as it is told, without a full stop; [] where they do. */
  readonly capability: readonly string[];
};

export type ShipAnswer = {
  readonly answer: "go" | "stop";
  /** For stop: every reason. For go: what has to be known. */
  readonly reasons: readonly ShipReason[];
};

/** What is against a frame by its own readings. */
function againstOf({ reasons }: FrameToShip): FrameToShip["reasons"] {
  return reasons.filter(({ verdict }) => verdict !== "conforms");
}

function stopOfState(frame: FrameToShip, bySample: boolean, now: Date): ShipReason | null {
  switch (frame.state) {
    case "shipped":
      return { code: "shipped", at: frame.shippedAt };
    case "held":
      return { code: "held", against: againstOf(frame) };
    case "in_rework":
      return { code: "in-rework" };
    case "scrapped":
    case "returned":
      return { code: frame.state };
    case "unmeasured":
    case "in_measurement":
      return bySample ? null : { code: "not-measured" };
    case "on_concession":
      return frame.concessionUntil !== null && frame.concessionUntil < now
        ? { code: "concession-expired", at: frame.concessionUntil }
        : null;
    case "measured":
    case "released":
    case "regraded":
      return null;
  }
}

function noteOfState(frame: FrameToShip, batch: BatchToShip): ShipReason | null {
  if (frame.state === "on_concession") return { code: "on-concession" };
  if (frame.state === "regraded") return { code: "regraded" };
  if (frame.state === "released") return { code: "released" };
  if (frame.state !== "unmeasured" || !batch.bySample) return null;
  const { key, measured, frames, found, isRiskTaken, lot } = batch;
  return { code: "by-sample", batch: key, measured, frames, found, isRiskTaken, lot };
}

/** An unmeasured frame of a batch whose sample speaks against it, and nobody has signed for the rest. */
function stopOfSample(frame: FrameToShip, batch: BatchToShip): ShipReason | null {
  if (!batch.bySample || !isState(frame.state, UNMEASURED_STATES) || batch.isRiskTaken) return null;
  const { key, measured, found, lot } = batch;
  const isAgainst = lot === null ? found > 0 : lot.state === "refused" && batch.isPlanKept;
  return isAgainst ? { code: "sample-failed", batch: key, measured, found, lot } : null;
}

/** An unmeasured frame of a batch whose streams are not shown to be as good as the drawing asks, and nobody has signed for the rest. */
function stopOfCapability(frame: FrameToShip, batch: BatchToShip): ShipReason | null {
  if (!batch.bySample || !isState(frame.state, UNMEASURED_STATES) || batch.capability.length === 0 || batch.isRiskTaken)
    return null;
  return { code: "capability", because: batch.capability };
}

/**
 * The dock's one question: may this frame ship?
 *
 * @param frame - the frame as it stands, or null where no frame has the serial
 * @param batch - its batch with counts, or null with an unknown frame
 * @param near - of an unknown frame: serials of frames that it may have been meant to be
 * @returns stop with every reason, or go with what has to be known
 */
export function shipAnswer(
  serial: string,
  frame: FrameToShip | null,
  batch: BatchToShip | null,
  now: Date,
  near: readonly string[] = [],
): ShipAnswer {
  if (frame === null || batch === null) return { answer: "stop", reasons: [{ code: "unknown", serial, near }] };
  const stops: ShipReason[] = [
    stopOfState(frame, batch.bySample, now),
    stopOfSample(frame, batch),
    stopOfCapability(frame, batch),
  ].filter((stop) => stop !== null);
  if (isState(frame.state, LEFT_STATES)) {
    const against = againstOf(frame);
    if (against.length > 0) stops.push({ code: "evidence-against", against });
  }
  const { leaseDeviceId } = frame;
  if (leaseDeviceId !== null) stops.push({ code: "in-measurement", deviceId: leaseDeviceId });
  const { key, heldAt, missing, asked, bySample, isDrawn } = batch;
  if (heldAt !== null) stops.push({ code: "batch-held", batch: key, at: heldAt });
  if (missing > 0 && frame.state !== "shipped")
    stops.push({ code: "batch-incomplete", batch: key, missing, asked, bySample, isDrawn });
  if (stops.length > 0) return { answer: "stop", reasons: stops };
  const note = noteOfState(frame, batch);
  return { answer: "go", reasons: note ? [note] : [] };
}
