import type { FrameToShip, ShipAnswer, ShipReason } from "@/lib/quality/ship-answer";
import { lotPlanText, lotResultText } from "./lot-words";
import { limitsText, seatText, valueText } from "./value-text";

/** A reason of the ship scan as it is kept, sent and shown: one sentence, with its numbers. */
export type ToldShipReason = {
  readonly code: ShipReason["code"];
  readonly text: string;
  /** Of an unknown serial: the frames that it may have been meant to be. Only where there are some. */
  readonly near?: readonly string[];
};

export type ToldShipAnswer = Pick<ShipAnswer, "answer"> & { readonly reasons: readonly ToldShipReason[] };

/** A moment in words, in the plant's own time. */
type SayMoment = (time: Date) => string;

const VERDICT_TEXT = {
  conforms: "conforms",
  "not proven": "is not proven",
  "not measured": "was not measured",
  "does not conform": "does not conform",
} as const satisfies Record<FrameToShip["reasons"][number]["verdict"], string>;

/** What is against a frame by its own readings, each with its numbers; "" where nothing is. */
function againstText(against: FrameToShip["reasons"]): string {
  return against
    .map(({ name, seat, value, unit, verdict, lower, upper, reason }) => {
      // What a part of the readings gives is no result.
      const numbers =
        value === null || verdict === "not measured"
          ? ""
          : `, ${valueText(value, unit)}, ${limitsText(lower, upper, unit)}`;
      return `${name}${seatText(seat)} ${VERDICT_TEXT[verdict]}${numbers}${reason === undefined ? "" : ` (${reason})`}`;
    })
    .join("; ");
}

function foundText({ found, isRiskTaken }: Extract<ShipReason, { code: "by-sample" }>): string {
  if (found === 0) return isRiskTaken ? " The risk of the others was taken by a signed decision." : "";
  return ` ${found} of them did not conform${isRiskTaken ? "; the risk was taken by a signed decision" : ""}.`;
}

function incompleteText({
  missing,
  asked,
  bySample,
  batch,
  isDrawn,
}: Extract<ShipReason, { code: "batch-incomplete" }>) {
  const frames = bySample ? "frames that the plan asks for in" : "frames of";
  const drawn = isDrawn ? "" : "; its sample is drawn when the batch is opened on the Line";
  return `${missing} of the ${asked} ${frames} its batch ${batch} ${missing === 1 ? "has" : "have"} not been measured${drawn}.`;
}

const MEASURE_IT = "Measure it, or have the risk signed for at the batch.";

function nearText(near: readonly string[]): string {
  if (near.length === 0) return "";
  const [last, ...others] = near.toReversed();
  const listed = others.length === 0 ? last : `${others.toReversed().join(", ")} or ${last}`;
  return ` Nearly the same: ${listed}. Scan again, or key what stands on the frame.`;
}

function shipText(reason: ShipReason, say: SayMoment): string {
  switch (reason.code) {
    case "unknown":
      return `No frame has the serial ${reason.serial}.${nearText(reason.near)}`;
    case "shipped":
      return `It shipped before, on ${reason.at === null ? "an earlier day" : say(reason.at)}.`;
    case "held": {
      const against = againstText(reason.against);
      return `It is held: its own readings are against it${against === "" ? "" : `: ${against}`}.`;
    }
    case "evidence-against":
      return `Its own readings are against it: ${againstText(reason.against)}.`;
    case "in-measurement":
      return `It is being measured on ${reason.deviceId}; its readings are not here yet.`;
    case "in-rework":
      return "It is in rework and has to be measured again.";
    case "scrapped":
      return "It was scrapped.";
    case "returned":
      return "It goes back to the supplier.";
    case "not-measured":
      return "It has not been measured.";
    case "concession-expired":
      return `Its concession ended on ${say(reason.at)}.`;
    case "batch-held":
      return `Its batch ${reason.batch} is held since ${say(reason.at)}.`;
    case "batch-incomplete":
      return incompleteText(reason);
    case "by-sample":
      return `${reason.lot === null ? "By sample" : `By sample ${lotPlanText(reason.lot.plan)} of batch ${reason.batch}`}: ${reason.measured} of the ${reason.frames} frames of batch ${reason.batch} were measured.${foundText(reason)}`;
    case "sample-failed":
      if (reason.lot !== null)
        return `It was not measured, and the plan of batch ${reason.batch} does not accept it: ${lotResultText(reason.lot)}. ${MEASURE_IT}`;
      return `It was not measured, and ${reason.found} of the ${reason.measured} measured frames of batch ${reason.batch} did not conform. ${MEASURE_IT}`;
    case "capability":
      return `It was not measured, and the others do not speak for it: ${reason.because.join("; ")}. ${MEASURE_IT}`;
    case "on-concession":
      return "It ships on a signed concession.";
    case "regraded":
      return "It was regraded: it ships as the other grade.";
    case "released":
      return "It was released by a signed decision.";
  }
}

/**
 * The dock's answer in words.
 *
 * @param say - writes a moment in the plant's own time
 */
export function toldShipAnswer({ answer, reasons }: ShipAnswer, say: SayMoment): ToldShipAnswer {
  return {
    answer,
    reasons: reasons.map((reason) => {
      const told = { code: reason.code, text: shipText(reason, say) };
      return reason.code === "unknown" && reason.near.length > 0 ? { ...told, near: reason.near } : told;
    }),
  };
}
