import type { Verdict } from "./verdict-words";

/** What a finding does to a batch: holds it, is told to people, or is left out. */
export type Consequence = "hold" | "inform" | "ignore";

/** What the verdict of one characteristic does, for characteristics of one kind. */
export type VerdictConsequences = Readonly<Record<Exclude<Verdict, "conforms">, Consequence>>;

/**
 * The plant's policy for batches, as data. By default consequence holds, noise does not: each measured frame holds by its own
 * verdict; an open case alone informs, since a process may change long before its frames are outside a limit; capability
 * speaks only about frames that nobody measured.
 */
export type GatePolicy = {
  readonly critical: VerdictConsequences;
  readonly other: VerdictConsequences;
  /** A frame that is due by its plan and has no complete result. */
  readonly frameNotMeasured: Consequence;
  /** An open case of Drift with signals at frames of the batch. */
  readonly signal: Consequence;
  /** A sampled batch that its plan does not accept, for the frames that nobody measured. */
  readonly planNotMet: Consequence;
  /** Capability bound over its limit, for the unmeasured frames of a sampled batch. */
  readonly capabilityBound: Consequence;
  /** How many of the stream's last frames the capability bound looks at. */
  readonly capabilityFrames: number;
  /** A reading by a gauge that was out of calibration, or that was found out since. */
  readonly gaugeOutOfOrder: Consequence;
  /** Readings of the batch that are still on a device. */
  readonly readingsOnDevice: Consequence;
};

export const DEFAULT_GATE_POLICY: GatePolicy = {
  critical: { "does not conform": "hold", "not proven": "hold", "not measured": "hold" },
  other: { "does not conform": "hold", "not proven": "inform", "not measured": "hold" },
  frameNotMeasured: "hold",
  signal: "inform",
  planNotMet: "hold",
  capabilityBound: "hold",
  capabilityFrames: 300,
  gaugeOutOfOrder: "hold",
  readingsOnDevice: "hold",
};

const CONSEQUENCES: readonly unknown[] = ["hold", "inform", "ignore"] satisfies Consequence[];

function isConsequence(value: unknown): value is Consequence {
  return CONSEQUENCES.includes(value);
}

function isRecord(value: unknown): value is Readonly<Record<string, unknown>> {
  return typeof value === "object" && value !== null && !Array.isArray(value);
}

function merged(base: VerdictConsequences, own: unknown): VerdictConsequences {
  if (!isRecord(own)) return base;
  const of = (verdict: keyof VerdictConsequences): Consequence => {
    const value = own[verdict];
    return isConsequence(value) ? value : base[verdict];
  };
  return {
    "does not conform": of("does not conform"),
    "not proven": of("not proven"),
    "not measured": of("not measured"),
  };
}

/**
 * The policy of a batch: the default, with what the plant's own data changes.
 *
 * @param own - parsed JSON as stored with the batch; unknown keys and values change nothing, {} is the default policy
 */
export function gatePolicyFrom(own: unknown): GatePolicy {
  if (!isRecord(own)) return DEFAULT_GATE_POLICY;
  const base = DEFAULT_GATE_POLICY;
  const of = (key: Exclude<keyof GatePolicy, "critical" | "other" | "capabilityFrames">) => {
    const value = own[key];
    return isConsequence(value) ? value : base[key];
  };
  const frames = own.capabilityFrames;
  return {
    critical: merged(base.critical, own.critical),
    other: merged(base.other, own.other),
    frameNotMeasured: of("frameNotMeasured"),
    signal: of("signal"),
    planNotMet: of("planNotMet"),
    capabilityBound: of("capabilityBound"),
    capabilityFrames:
      typeof frames === "number" && Number.isInteger(frames) && frames >= 25 ? frames : base.capabilityFrames,
    gaugeOutOfOrder: of("gaugeOutOfOrder"),
    readingsOnDevice: of("readingsOnDevice"),
  };
}
