import type { BatchDecision, BatchReason, BoundedRisk, ReasonNumbers } from "@/lib/quality/batch-decision";
import type { BatchFinding, SharedReason } from "@/lib/quality/batch-evidence";
import type { CapabilityFinding } from "@/lib/quality/sampled-capability";
import { lotPlanText, lotResultText } from "./lot-words";
import { formatFixed } from "./number-text";
import { unknownBoundText } from "./signal-words";
import { countText, limitsText, seatText, serialsText, uncertaintyText, valueText } from "./value-text";

/** What was found, and how many of the rest may be like it: a sentence with its numbers. */
export function sampleRiskText({ frames, measured, found, unmeasured, bound }: BoundedRisk): string {
  const rest = frames - measured;
  const share = Math.round((bound / Math.max(1, rest)) * 100);
  const failed =
    found.length === 0
      ? `0 of ${countText(measured, "measured frame")} did not conform. `
      : `${found.length} of ${countText(measured, "measured frame")} did not conform, whatever became of them: ${serialsText(found)}. `;
  return (
    failed +
    `Of the ${countText(rest, "frame")} that nobody measured up to ${bound} (${share} %) may not conform (95 % bound, as if the measured ones were drawn at random)` +
    (unmeasured === rest ? "." : `; ${unmeasured} of them ${unmeasured === 1 ? "is" : "are"} still here.`)
  );
}

/** What holds the unmeasured frames where nobody has asked their streams yet. */
export const CAPABILITY_NOT_ASKED = "the capability of its line is being computed, ask again";

/** Two decimals, so that a bound just over what is allowed does not read like it. */
function percentText(share: number): string {
  return `${formatFixed(share * 100, 2)} %`;
}

/** A finding in words and numbers, without a full stop. */
export function capabilityText({ characteristic, seat, limit, operation, bound }: CapabilityFinding): string {
  const subject = `${characteristic}${seatText(seat)}${operation === null ? "" : `, ${operation}`}`;
  if (bound === "being computed") return `the capability of ${subject} is being computed, ask again`;
  if (!bound.ok) return `the capability of ${subject} is not known yet: ${unknownBoundText(bound.because)}`;
  return `${subject}: by the last ${countText(bound.frames, "frame")} up to ${percentText(bound.fraction)} may not conform (95 % bound), allowed ${percentText(limit)}`;
}

const VERDICT_WORDS = {
  "does not conform": "does not conform",
  "not proven": "is not proven to conform",
  "not measured": "was not measured",
} as const satisfies Record<BatchFinding["verdict"], string>;

function capitalised(text: string): string {
  return text.slice(0, 1).toUpperCase() + text.slice(1);
}

function sharedReasonText({ text, serial }: SharedReason): string {
  return serial === null ? text : `${serial}: ${text}; the others for reasons of their own`;
}

function findingText(finding: BatchFinding, frames: number): string {
  const { characteristic, seat, verdict, serials, worst } = finding;
  const reason = finding.reason === null ? null : sharedReasonText(finding.reason);
  const head = `${capitalised(characteristic)}${seatText(seat)} ${VERDICT_WORDS[verdict]} in ${serials.length} of ${countText(frames, "frame")}`;
  // A doubt about the gauge says more than the numbers that it gave.
  if (verdict === "not measured" || worst === null || (verdict === "not proven" && reason !== null))
    return `${head}${reason === null ? "" : `: ${reason}`}.`;
  const { value, unit, lower, upper, uncertainty } = worst;
  const limits = limitsText(lower, upper, unit);
  const u = uncertaintyText(uncertainty, unit);
  const why = reason === null ? "" : `; ${reason}`;
  return `${head}: worst ${valueText(value, unit)} (${worst.serial}), ${limits}, ${u}${why}.`;
}

function framesText({ reason, frames }: Extract<ReasonNumbers, { of: "frames" }>, serials: readonly string[]): string {
  const [first = "", ...more] = serials;
  const verb = more.length === 0 ? "is" : "are";
  const also = more.length === 0 ? "" : `; also ${serialsText(more)}`;
  return `${countText(serials.length, "frame")} of ${frames} ${verb} not completely measured: ${first}, ${reason}${also}.`;
}

const RISK_TAKEN = " The risk was taken by a signed decision.";

function capabilityReasonText(numbers: Extract<ReasonNumbers, { of: "capability" }>): string {
  const { finding, unmeasured, beside, isAccepted } = numbers;
  const clause = finding === null ? CAPABILITY_NOT_ASKED : capabilityText(finding);
  const rest = `${countText(unmeasured, "frame")} of this batch ${unmeasured === 1 ? "is" : "are"} not measured.`;
  return `${capitalised(clause)}; ${rest}${beside === null ? "" : ` ${sampleRiskText(beside)}`}${isAccepted ? RISK_TAKEN : ""}`;
}

function lotReasonText({ lot, risk }: Extract<ReasonNumbers, { of: "lot" }>): string {
  const head = `${lotPlanText(lot.plan)}: ${lotResultText(lot)}`;
  if (risk === null) return `Accepted by its plan, ${head}.`;
  const rest = sampleRiskText(risk);
  const after = risk.isAccepted ? RISK_TAKEN : " They stay until all are measured, or somebody signs for the risk.";
  return `Not accepted by its plan, ${head}. ${rest}${after}`;
}

function reasonText({ numbers, serials }: BatchReason): string {
  switch (numbers.of) {
    case "finding":
      return findingText(numbers.finding, numbers.frames);
    case "frames":
      return framesText(numbers, serials);
    case "capability":
      return capabilityReasonText(numbers);
    case "sample":
      return numbers.risk.isAccepted
        ? `${sampleRiskText(numbers.risk)}${RISK_TAKEN}`
        : `${sampleRiskText(numbers.risk)} They stay until all are measured, or somebody signs for the risk.`;
    case "lot":
      return lotReasonText(numbers);
    case "signal":
      return numbers.text;
    case "gauge":
      return `Gauge ${numbers.gauge} ${numbers.why}: ${countText(serials.length, "frame rests", "frames rest")} on it (${serialsText(serials)}).`;
    case "devices":
      return `The readings of ${countText(serials.length, "frame")} are still on ${numbers.devices.join(", ")}: ${serialsText(serials)}.`;
  }
}

/** One reason as a sentence with its numbers. */
export type ToldBatchReason = Omit<BatchReason, "numbers"> & { readonly text: string };

/** The decision on a batch as it is kept, sent and shown. */
export type ToldBatchDecision = Omit<BatchDecision, "reasons" | "notes"> & {
  readonly reasons: readonly ToldBatchReason[];
  readonly notes: readonly ToldBatchReason[];
};

function toldReason(reason: BatchReason): ToldBatchReason {
  const { code, characteristic, seat, serials } = reason;
  return { code, characteristic, seat, text: reasonText(reason), serials };
}

/** A decision with its reasons in words. */
export const toldBatchDecision = (decision: BatchDecision): ToldBatchDecision => ({
  ...decision,
  reasons: decision.reasons.map(toldReason),
  notes: decision.notes.map(toldReason),
});
