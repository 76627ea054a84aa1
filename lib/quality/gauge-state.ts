import { calibrationInForce, type CalibrationSpan } from "../core/metrology/calibration-in-force";

/** What a gauge is good for now, by the evidence of it. */
export const GAUGE_STATES = ["in-use", "in-doubt", "quarantined", "retired"] as const;
export type GaugeState = (typeof GAUGE_STATES)[number];

/** Why a gauge is not simply in use. Times are ms since 1970. */
export type GaugeStateReason =
  | { readonly code: "out-of-use" }
  | { readonly code: "never-calibrated" }
  | { readonly code: "calibration-over"; readonly dueMs: number }
  | { readonly code: "ring-out-of-use"; readonly ring: string }
  | {
      readonly code: "zero-failed";
      readonly zeroErrorUm: number;
      readonly limitUm: number;
      readonly foundMs: number;
      /** Last good check or calibration before; null where there was none. */
      readonly afterMs: number | null;
    };

/** A stretch whose readings are in doubt and that no good check has ended. */
export type OpenDoubt = {
  readonly zeroErrorUm: number;
  readonly limitUm: number;
  readonly foundMs: number;
  readonly afterMs: number | null;
};

export type GaugeStanding = {
  readonly isInUse: boolean;
  /** Newest first, as calibrationInForce takes them. */
  readonly calibrations: readonly CalibrationSpan[];
  readonly openDoubt: OpenDoubt | null;
  /** Its setting ring; null where it has none. */
  readonly ring: { readonly key: string; readonly isInUse: boolean } | null;
};

const STATE_OF = {
  "out-of-use": "retired",
  "never-calibrated": "quarantined",
  "calibration-over": "quarantined",
  "ring-out-of-use": "quarantined",
  "zero-failed": "in-doubt",
} as const satisfies Record<GaugeStateReason["code"], GaugeState>;

/**
 * The state of a gauge as it follows from its records: retired where it was taken out of use; quarantined where it is not in
 * calibration or its ring is out of use, since then it proves nothing; in doubt where its last zero check failed.
 *
 * @param nowMs - ms since 1970
 * @returns the gravest state, and every reason there is, the gravest first
 */
export function gaugeState(
  { isInUse, calibrations, openDoubt, ring }: GaugeStanding,
  nowMs: number,
): { readonly state: GaugeState; readonly reasons: readonly GaugeStateReason[] } {
  const inForce = calibrationInForce(calibrations, nowMs);
  const reasons: GaugeStateReason[] = [
    ...(isInUse ? [] : [{ code: "out-of-use" } as const]),
    ...(inForce === null ? [{ code: "never-calibrated" } as const] : []),
    ...(inForce !== null && inForce.dueMs < nowMs ? [{ code: "calibration-over", dueMs: inForce.dueMs } as const] : []),
    ...(ring !== null && !ring.isInUse ? [{ code: "ring-out-of-use", ring: ring.key } as const] : []),
    ...(openDoubt === null ? [] : [{ code: "zero-failed", ...openDoubt } as const]),
  ];
  const [first] = reasons;
  return { state: first === undefined ? "in-use" : STATE_OF[first.code], reasons };
}
