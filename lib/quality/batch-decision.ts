import type { Seat } from "../core/metrology/reading-name";
import type { CharacteristicName } from "../core/metrology/shell-drawing";
import type { BatchEvidence, BatchFinding } from "./batch-evidence";
import type { Consequence, GatePolicy } from "./gate-policy";
import { capabilityStops, type CapabilityFinding } from "./sampled-capability";
import type { LotJudgement } from "./lot-judgement";
import { type SampleRisk, unmeasuredBound } from "./sample-risk";

/** What the reasons of a decision are about; the words in which a program tells them apart. */
export type ReasonCode =
  | "does-not-conform"
  | "not-proven"
  | "not-measured"
  | "sample-failed"
  | "sample-accepted"
  | "capability-bound"
  | "capability-unknown"
  | "signal"
  | "gauge-out-of-order"
  | "readings-on-device"
  | "no-frames";

/** What a sample says, with the upper 95 % bound of what does not conform among those that nobody measured. */
export type BoundedRisk = SampleRisk & { readonly bound: number };

/** The numbers of a reason. */
export type ReasonNumbers =
  | { readonly of: "finding"; readonly finding: BatchFinding; readonly frames: number }
  /** Why the first of them is not completely measured. */
  | { readonly of: "frames"; readonly reason: string; readonly frames: number }
  | {
      readonly of: "capability";
      /** Null where nobody asked the streams yet. */
      readonly finding: CapabilityFinding | null;
      readonly unmeasured: number;
      /** What the measured frames alone say: the risk for which somebody may sign; null where it is said before. */
      readonly beside: BoundedRisk | null;
      readonly isAccepted: boolean;
    }
  | { readonly of: "sample"; readonly risk: BoundedRisk }
  /** The batch by its own plan; risk null where it accepts the batch. */
  | { readonly of: "lot"; readonly lot: LotJudgement; readonly risk: BoundedRisk | null }
  /** `text` as the stream's signal is told. */
  | { readonly of: "signal"; readonly text: string }
  /** `why` as it is told of the gauge. */
  | { readonly of: "gauge"; readonly gauge: string; readonly why: string }
  | { readonly of: "devices"; readonly devices: readonly string[] };

/** One reason with its numbers; lib/format says it. */
export type BatchReason = {
  readonly code: ReasonCode;
  readonly characteristic: CharacteristicName | null;
  readonly seat: Seat | null;
  readonly numbers: ReasonNumbers;
  readonly serials: readonly string[];
};

/** What is known beside the frames' own verdicts. */
export type BatchCircumstances = {
  /** What the measured frames of a sampled batch say about the rest; left out where every frame is measured. */
  readonly sample?: SampleRisk;
  /** What the plan of the batch makes of its sample; left out where its measuring plan alone says what is measured. */
  readonly lot?: LotJudgement;
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

const CODE_OF = {
  "does not conform": "does-not-conform",
  "not proven": "not-proven",
  "not measured": "not-measured",
} as const satisfies Record<BatchFinding["verdict"], ReasonCode>;

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
  "sample-accepted",
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
      code: CODE_OF[finding.verdict],
      characteristic: finding.characteristic,
      seat: finding.seat,
      numbers: { of: "finding", finding, frames: evidence.frames },
      serials: finding.serials,
    },
  }));
}

function weighNotMeasured(evidence: BatchEvidence, policy: GatePolicy): Weighed[] {
  const { notMeasured, frames } = evidence;
  const first = notMeasured[0];
  if (!first) return [];
  const serials = notMeasured.map(({ serial }) => serial);
  const numbers = { of: "frames", reason: first.reason, frames } as const;
  const reason: BatchReason = { code: "not-measured", characteristic: null, seat: null, numbers, serials };
  return [{ consequence: policy.frameNotMeasured, critical: true, reason }];
}

const bounded = (risk: SampleRisk): BoundedRisk => ({ ...risk, bound: unmeasuredBound(risk) });

/** What the measured frames alone say about the rest: the risk for which somebody may sign. */
function riskBeside({ sample }: BatchCircumstances): BoundedRisk | null {
  return sample === undefined || sample.measured === 0 || sample.found.length > 0 ? null : bounded(sample);
}

function weighCapability(circumstances: BatchCircumstances, policy: GatePolicy): Weighed[] {
  const unmeasured = circumstances.unmeasuredBySample ?? 0;
  // Capability says nothing about a frame that was measured: each has its own verdict.
  if (unmeasured === 0) return [];
  const isAccepted = circumstances.sample?.isAccepted === true;
  const consequence = isAccepted && policy.capabilityBound === "hold" ? "inform" : policy.capabilityBound;
  const weighed = (code: ReasonCode, finding: CapabilityFinding | null, beside: BoundedRisk | null): Weighed => ({
    consequence,
    critical: true,
    reason: {
      code,
      characteristic: finding?.characteristic ?? null,
      seat: finding?.seat ?? null,
      numbers: { of: "capability", finding, unmeasured, beside, isAccepted },
      serials: [],
    },
  });
  const { capability } = circumstances;
  if (capability === undefined) return [weighed("capability-unknown", null, null)];
  const told = new Set<ReasonCode>();
  return capability.filter(capabilityStops).map((finding) => {
    const { bound } = finding;
    const code = bound !== "being computed" && bound.ok ? "capability-bound" : "capability-unknown";
    const beside = told.has(code) ? null : riskBeside(circumstances);
    told.add(code);
    return weighed(code, finding, beside);
  });
}

/** What a sample found holds those that nobody measured, until all are or somebody signs for the risk. */
function weighSample({ sample, lot }: BatchCircumstances, policy: GatePolicy): Weighed[] {
  if (sample === undefined || sample.unmeasured === 0) return [];
  if (lot !== undefined) return weighLot(lot, sample, policy);
  if (sample.found.length === 0) return [];
  const numbers = { of: "sample", risk: bounded(sample) } as const;
  const { found: serials } = sample;
  const reason: BatchReason = { code: "sample-failed", characteristic: null, seat: null, numbers, serials };
  return [{ consequence: sample.isAccepted ? "inform" : "hold", critical: true, reason }];
}

/** A batch by its own plan: one that it accepts lets its other frames go, and says by what. */
function weighLot(lot: LotJudgement, sample: SampleRisk, policy: GatePolicy): Weighed[] {
  const { state, found, beside } = lot;
  if (state === "measuring") return [];
  const shared = { characteristic: null, seat: null, serials: [...found, ...beside] } as const;
  if (state === "accepted") {
    const numbers = { of: "lot", lot, risk: null } as const;
    return [{ consequence: "inform", critical: false, reason: { ...shared, code: "sample-accepted", numbers } }];
  }
  const numbers = { of: "lot", lot, risk: bounded(sample) } as const;
  const consequence = sample.isAccepted && policy.planNotMet === "hold" ? "inform" : policy.planNotMet;
  return [{ consequence, critical: true, reason: { ...shared, code: "sample-failed", numbers } }];
}

function weighCircumstances(circumstances: BatchCircumstances, policy: GatePolicy): Weighed[] {
  const weighed: Weighed[] = [...weighSample(circumstances, policy), ...weighCapability(circumstances, policy)];
  for (const { characteristic, seat, text, serials } of circumstances.signals ?? []) {
    const reason: BatchReason = { code: "signal", characteristic, seat, numbers: { of: "signal", text }, serials };
    weighed.push({ consequence: policy.signal, critical: false, reason });
  }
  for (const { gauge, why, serials } of circumstances.gauges ?? []) {
    const numbers = { of: "gauge", gauge, why } as const;
    const reason: BatchReason = { code: "gauge-out-of-order", characteristic: null, seat: null, numbers, serials };
    weighed.push({ consequence: policy.gaugeOutOfOrder, critical: true, reason });
  }
  const onDevice = circumstances.onDevice ?? [];
  if (onDevice.length > 0) {
    const serials = onDevice.map(({ serial }) => serial);
    const devices = [...new Set(onDevice.map(({ device }) => device))];
    const numbers = { of: "devices", devices } as const;
    const reason: BatchReason = { code: "readings-on-device", characteristic: null, seat: null, numbers, serials };
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
