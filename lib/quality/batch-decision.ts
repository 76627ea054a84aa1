import type { Seat } from "../core/metrology/reading-name";
import type { CharacteristicName } from "../core/metrology/shell-drawing";
import type { BatchEvidence, BatchFinding } from "./batch-evidence";
import type { Consequence, GatePolicy } from "./gate-policy";
import { CAPABILITY_NOT_ASKED, capabilityStops, capabilityText, type CapabilityFinding } from "./sampled-capability";
import { sampleRiskText, type SampleRisk } from "./sample-risk";
import { countText, limitsText, seatText, serialsText, uncertaintyText, valueText } from "../format/value-text";

/** What the reasons of a decision are about; the words in which a program tells them apart. */
export type ReasonCode =
  | "does-not-conform"
  | "not-proven"
  | "not-measured"
  | "sample-failed"
  | "capability-bound"
  | "capability-unknown"
  | "signal"
  | "gauge-out-of-order"
  | "readings-on-device"
  | "no-frames";

/** One reason, as a sentence with its numbers. */
export type BatchReason = {
  readonly code: ReasonCode;
  readonly characteristic: CharacteristicName | null;
  readonly seat: Seat | null;
  readonly text: string;
  readonly serials: readonly string[];
};

/** What is known beside the frames' own verdicts. */
export type BatchCircumstances = {
  /** What the measured frames of a sampled batch say about the rest; left out where every frame is measured. */
  readonly sample?: SampleRisk;
  /** Frames of a sampled batch that nobody is going to measure. */
  readonly unmeasuredBySample?: number;
  /** What the streams of a sampled batch say about its frames that nobody measured; left out: nobody asked, and they wait. */
  readonly capability?: readonly CapabilityFinding[];
  /** Signals in the batch's time. */
  readonly signals?: readonly {
    readonly characteristic: CharacteristicName;
    readonly seat: Seat | null;
    readonly text: string;
    readonly serials: readonly string[];
  }[];
  /** Gauges out of calibration or found out, with the frames that rest on them. */
  readonly gauges?: readonly { readonly gauge: string; readonly why: string; readonly serials: readonly string[] }[];
  /** Frames whose readings are still on a device. */
  readonly onDevice?: readonly { readonly serial: string; readonly device: string }[];
};

/** The decision on a batch: `reasons` hold it, `notes` inform. */
export type BatchDecision = {
  readonly batch: string | null;
  readonly decision: "ship" | "hold";
  readonly reasons: readonly BatchReason[];
  readonly notes: readonly BatchReason[];
};

const VERDICT_WORDS = {
  "does not conform": { code: "does-not-conform", text: "does not conform" },
  "not proven": { code: "not-proven", text: "is not proven to conform" },
  "not measured": { code: "not-measured", text: "was not measured" },
} as const satisfies Record<BatchFinding["verdict"], { code: ReasonCode; text: string }>;

function capitalised(text: string): string {
  return text.slice(0, 1).toUpperCase() + text.slice(1);
}

function findingText(finding: BatchFinding, frames: number): string {
  const { characteristic, seat, verdict, serials, worst, reason } = finding;
  const head = `${capitalised(characteristic)}${seatText(seat)} ${VERDICT_WORDS[verdict].text} in ${serials.length} of ${countText(frames, "frame")}`;
  // A doubt about the gauge says more than the numbers that it gave.
  if (verdict === "not measured" || worst === null || (verdict === "not proven" && reason !== null))
    return `${head}${reason === null ? "" : `: ${reason}`}.`;
  const { value, unit, lower, upper, uncertainty } = worst;
  const limits = limitsText(lower, upper, unit);
  const u = uncertaintyText(uncertainty, unit);
  const why = reason === null ? "" : `; ${reason}`;
  return `${head}: worst ${valueText(value, unit)} (${worst.serial}), ${limits}, ${u}${why}.`;
}

const RANK: readonly ReasonCode[] = [
  "does-not-conform",
  "sample-failed",
  "not-measured",
  "not-proven",
  "gauge-out-of-order",
  "readings-on-device",
  "capability-bound",
  "capability-unknown",
  "no-frames",
  "signal",
];

type Weighed = { readonly consequence: Consequence; readonly reason: BatchReason; readonly critical: boolean };

function weighFindings(evidence: BatchEvidence, policy: GatePolicy): Weighed[] {
  return evidence.findings.map((finding) => ({
    consequence: finding.alwaysHolds
      ? ("hold" as const)
      : (finding.critical ? policy.critical : policy.other)[finding.verdict],
    critical: finding.critical,
    reason: {
      code: VERDICT_WORDS[finding.verdict].code,
      characteristic: finding.characteristic,
      seat: finding.seat,
      text: findingText(finding, evidence.frames),
      serials: finding.serials,
    },
  }));
}

function weighNotMeasured(evidence: BatchEvidence, policy: GatePolicy): Weighed[] {
  const { notMeasured, frames } = evidence;
  const first = notMeasured[0];
  if (!first) return [];
  const serials = notMeasured.map(({ serial }) => serial);
  const verb = serials.length === 1 ? "is" : "are";
  const text = `${countText(serials.length, "frame")} of ${frames} ${verb} not completely measured: ${first.serial}, ${first.reason}${serials.length === 1 ? "" : `; also ${serialsText(serials.slice(1))}`}.`;
  const reason: BatchReason = { code: "not-measured", characteristic: null, seat: null, text, serials };
  return [{ consequence: policy.frameNotMeasured, critical: true, reason }];
}

/** What the measured frames alone say about the rest: the risk for which somebody may sign. */
function riskBeside({ sample }: BatchCircumstances): string {
  if (sample === undefined || sample.measured === 0 || sample.found.length > 0) return "";
  return ` ${sampleRiskText(sample)}`;
}

function weighCapability(circumstances: BatchCircumstances, policy: GatePolicy): Weighed[] {
  const unmeasured = circumstances.unmeasuredBySample ?? 0;
  // Capability says nothing about a frame that was measured: each has its own verdict.
  if (unmeasured === 0) return [];
  const isAccepted = circumstances.sample?.isAccepted === true;
  const consequence = isAccepted && policy.capabilityBound === "hold" ? "inform" : policy.capabilityBound;
  const rest = `${countText(unmeasured, "frame")} of this batch ${unmeasured === 1 ? "is" : "are"} not measured.`;
  const risk = isAccepted ? " The risk was taken by a signed decision." : "";
  const weighed = (
    code: ReasonCode,
    subject: Pick<BatchReason, "characteristic" | "seat">,
    clause: string,
    beside = "",
  ): Weighed => ({
    consequence,
    critical: true,
    reason: { code, ...subject, text: `${capitalised(clause)}; ${rest}${beside}${risk}`, serials: [] },
  });
  const { capability } = circumstances;
  if (capability === undefined)
    return [weighed("capability-unknown", { characteristic: null, seat: null }, CAPABILITY_NOT_ASKED)];
  const told = new Set<ReasonCode>();
  return capability.filter(capabilityStops).map((finding) => {
    const { characteristic, seat, bound } = finding;
    const code = bound !== "being computed" && bound.ok ? "capability-bound" : "capability-unknown";
    const beside = told.has(code) ? "" : riskBeside(circumstances);
    told.add(code);
    return weighed(code, { characteristic, seat }, capabilityText(finding), beside);
  });
}

/** What a sample found holds those that nobody measured, until all are or somebody signs for the risk. */
function weighSample({ sample }: BatchCircumstances): Weighed[] {
  if (sample === undefined || sample.found.length === 0 || sample.unmeasured === 0) return [];
  const risk = sampleRiskText(sample);
  const text = sample.isAccepted
    ? `${risk} The risk was taken by a signed decision.`
    : `${risk} They stay until all are measured, or somebody signs for the risk.`;
  const reason: BatchReason = { code: "sample-failed", characteristic: null, seat: null, text, serials: sample.found };
  return [{ consequence: sample.isAccepted ? "inform" : "hold", critical: true, reason }];
}

function weighCircumstances(circumstances: BatchCircumstances, policy: GatePolicy): Weighed[] {
  const weighed: Weighed[] = [...weighSample(circumstances), ...weighCapability(circumstances, policy)];
  for (const { characteristic, seat, text, serials } of circumstances.signals ?? []) {
    const reason: BatchReason = { code: "signal", characteristic, seat, text, serials };
    weighed.push({ consequence: policy.signal, critical: false, reason });
  }
  for (const { gauge, why, serials } of circumstances.gauges ?? []) {
    const text = `Gauge ${gauge} ${why}: ${countText(serials.length, "frame rests", "frames rest")} on it (${serialsText(serials)}).`;
    const reason: BatchReason = { code: "gauge-out-of-order", characteristic: null, seat: null, text, serials };
    weighed.push({ consequence: policy.gaugeOutOfOrder, critical: true, reason });
  }
  const onDevice = circumstances.onDevice ?? [];
  if (onDevice.length > 0) {
    const serials = onDevice.map(({ serial }) => serial);
    const devices = [...new Set(onDevice.map(({ device }) => device))].join(", ");
    const text = `The readings of ${countText(serials.length, "frame")} are still on ${devices}: ${serialsText(serials)}.`;
    const reason: BatchReason = { code: "readings-on-device", characteristic: null, seat: null, text, serials };
    weighed.push({ consequence: policy.readingsOnDevice, critical: true, reason });
  }
  return weighed;
}

/**
 * Decides on a batch from its own evidence by the plant's policy. What holds by default is consequence: a frame's own
 * verdict, a frame not measured, a gauge out of order, readings not here, and capability for frames that nobody measured.
 * Signals alone inform.
 *
 * @param evidence - from collectBatchEvidence or batchEvidence
 * @param policy - DEFAULT_GATE_POLICY or gatePolicyFrom(...)
 * @param circumstances - what is known beside the frames' verdicts
 * @returns "ship" or "hold" with every reason; what informs stands in `notes`
 */
export function decideBatch(
  evidence: BatchEvidence,
  policy: GatePolicy,
  circumstances: BatchCircumstances = {},
): BatchDecision {
  const weighed = [
    ...weighFindings(evidence, policy),
    ...weighNotMeasured(evidence, policy),
    ...weighCircumstances(circumstances, policy),
  ];
  const order = ({ reason, critical }: Weighed): number => RANK.indexOf(reason.code) * 2 + (critical ? 0 : 1);
  weighed.sort((a, b) => order(a) - order(b) || b.reason.serials.length - a.reason.serials.length);
  const pick = (consequence: Consequence) =>
    weighed.filter((entry) => entry.consequence === consequence).map((entry) => entry.reason);
  const reasons = pick("hold");
  return { batch: evidence.batch, decision: reasons.length > 0 ? "hold" : "ship", reasons, notes: pick("inform") };
}
