import { isState, LEFT_STATES, UNMEASURED_STATES, type FrameState } from "./frame-state";
import type { ToldCharacteristic } from "./judge-frame";
import { limitsText, seatText, valueText } from "../format/value-text";

/** Why a frame may not ship, or what has to be known although it may. */
export type ShipReason = {
  readonly code:
    | "unknown"
    | "shipped"
    /** It has left the plant before, and its readings since are against it. */
    | "evidence-against"
    | "in-measurement"
    | "held"
    | "not-measured"
    | "in-rework"
    | "scrapped"
    | "returned"
    | "concession-expired"
    | "batch-held"
    | "batch-incomplete"
    | "by-sample"
    | "sample-failed"
    | "capability"
    | "on-concession"
    | "regraded"
    | "released";
  /** One sentence, with its numbers. */
  readonly text: string;
};

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
  /** A signed decision takes the risk of those that nobody measured. */
  readonly isRiskTaken: boolean;
  /** Why the streams do not speak for those that nobody measured, each without a full stop; [] where they do. */
  readonly capability: readonly string[];
};

export type ShipAnswer = {
  readonly answer: "go" | "stop";
  /** For stop: every reason. For go: what has to be known. */
  readonly reasons: readonly ShipReason[];
};

const reason = (code: ShipReason["code"], text: string): ShipReason => ({ code, text });

/** A moment in words, in the plant's own time. */
type SayMoment = (time: Date) => string;

const VERDICT_TEXT = {
  conforms: "conforms",
  "not proven": "is not proven",
  "not measured": "was not measured",
  "does not conform": "does not conform",
} as const satisfies Record<ToldCharacteristic["verdict"], string>;

/** What is against a frame by its own readings, each with its numbers; "" where nothing is. */
function againstText({ reasons }: FrameToShip): string {
  return reasons
    .filter(({ verdict }) => verdict !== "conforms")
    .map(({ name, seat, value, unit, verdict, lower, upper, reason: why }) => {
      // What a part of the readings gives is no result.
      const numbers =
        value === null || verdict === "not measured"
          ? ""
          : `, ${valueText(value, unit)}, ${limitsText(lower, upper, unit)}`;
      return `${name}${seatText(seat)} ${VERDICT_TEXT[verdict]}${numbers}${why === undefined ? "" : ` (${why})`}`;
    })
    .join("; ");
}

function stopOfState(frame: FrameToShip, bySample: boolean, now: Date, say: SayMoment): ShipReason | null {
  const against = againstText(frame);
  switch (frame.state) {
    case "shipped":
      return reason(
        "shipped",
        `It shipped before, on ${frame.shippedAt === null ? "an earlier day" : say(frame.shippedAt)}.`,
      );
    case "held":
      return reason("held", `It is held: its own readings are against it${against === "" ? "" : `: ${against}`}.`);
    case "in_rework":
      return reason("in-rework", "It is in rework and has to be measured again.");
    case "scrapped":
      return reason("scrapped", "It was scrapped.");
    case "returned":
      return reason("returned", "It goes back to the supplier.");
    case "unmeasured":
    case "in_measurement":
      return bySample ? null : reason("not-measured", "It has not been measured.");
    case "on_concession":
      return frame.concessionUntil !== null && frame.concessionUntil < now
        ? reason("concession-expired", `Its concession ended on ${say(frame.concessionUntil)}.`)
        : null;
    case "measured":
    case "released":
    case "regraded":
      return null;
  }
}

function noteOfState(frame: FrameToShip, batch: BatchToShip): ShipReason | null {
  if (frame.state === "on_concession") return reason("on-concession", "It ships on a signed concession.");
  if (frame.state === "regraded") return reason("regraded", "It was regraded: it ships as the other grade.");
  if (frame.state === "released") return reason("released", "It was released by a signed decision.");
  if (frame.state === "unmeasured" && batch.bySample)
    return reason(
      "by-sample",
      `By sample: ${batch.measured} of the ${batch.frames} frames of batch ${batch.key} were measured.${foundText(batch)}`,
    );
  return null;
}

function foundText({ found, isRiskTaken }: BatchToShip): string {
  if (found === 0) return isRiskTaken ? " The risk of the others was taken by a signed decision." : "";
  return ` ${found} of them did not conform${isRiskTaken ? "; the risk was taken by a signed decision" : ""}.`;
}

/** An unmeasured frame of a batch whose sample found frames that do not conform, and nobody has signed for the rest. */
function stopOfSample(frame: FrameToShip, batch: BatchToShip): ShipReason | null {
  if (!batch.bySample || !isState(frame.state, UNMEASURED_STATES) || batch.found === 0 || batch.isRiskTaken)
    return null;
  return reason(
    "sample-failed",
    `It was not measured, and ${batch.found} of the ${batch.measured} measured frames of batch ${batch.key} did not conform. ` +
      "Measure it, or have the risk signed for at the batch.",
  );
}

/** An unmeasured frame of a batch whose streams are not shown to be as good as the drawing asks, and nobody has signed for the rest. */
function stopOfCapability(frame: FrameToShip, batch: BatchToShip): ShipReason | null {
  if (!batch.bySample || !isState(frame.state, UNMEASURED_STATES) || batch.capability.length === 0 || batch.isRiskTaken)
    return null;
  return reason(
    "capability",
    `It was not measured, and the others do not speak for it: ${batch.capability.join("; ")}. ` +
      "Measure it, or have the risk signed for at the batch.",
  );
}

/**
 * The dock's one question: may this frame ship?
 *
 * @param frame - the frame as it stands, or null where no frame has the serial
 * @param batch - its batch with counts, or null with an unknown frame
 * @param say - writes a moment in the plant's own time
 * @returns stop with every reason, or go with what has to be known
 */
export function shipAnswer(
  serial: string,
  frame: FrameToShip | null,
  batch: BatchToShip | null,
  now: Date,
  say: SayMoment,
): ShipAnswer {
  if (frame === null || batch === null)
    return { answer: "stop", reasons: [reason("unknown", `No frame has the serial ${serial}.`)] };
  const stops: ShipReason[] = [];
  const state = stopOfState(frame, batch.bySample, now, say);
  if (state) stops.push(state);
  const sample = stopOfSample(frame, batch);
  if (sample) stops.push(sample);
  const capability = stopOfCapability(frame, batch);
  if (capability) stops.push(capability);
  if (isState(frame.state, LEFT_STATES)) {
    const against = againstText(frame);
    if (against !== "") stops.push(reason("evidence-against", `Its own readings are against it: ${against}.`));
  }
  if (frame.leaseDeviceId !== null)
    stops.push(
      reason("in-measurement", `It is being measured on ${frame.leaseDeviceId}; its readings are not here yet.`),
    );
  if (batch.heldAt !== null)
    stops.push(reason("batch-held", `Its batch ${batch.key} is held since ${say(batch.heldAt)}.`));
  if (batch.missing > 0 && frame.state !== "shipped")
    stops.push(
      reason(
        "batch-incomplete",
        `${batch.missing} of the ${batch.asked} ${batch.bySample ? "frames that the plan asks for in" : "frames of"} its batch ${batch.key} ${batch.missing === 1 ? "has" : "have"} not been measured${batch.isDrawn ? "" : "; its sample is drawn when the batch is opened on the Line"}.`,
      ),
    );
  if (stops.length > 0) return { answer: "stop", reasons: stops };
  const note = noteOfState(frame, batch);
  return { answer: "go", reasons: note ? [note] : [] };
}
