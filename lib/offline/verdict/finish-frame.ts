import { compileMeasurement } from "@/lib/core/metrology/measure-frame";
import { judgeInspection } from "@/lib/quality/judge-inspection";
import type { StationKit, StationPlan } from "@/lib/schemas/station-package";
import type { QueuedInspection } from "../device/device-database";
import { deviceEvidence } from "./device-evidence";
import { type Finish, type KeyingPlan, type KeyingSession, toInspection } from "../device/keying-session";
import { gaugeDoubtsOf } from "../device/frame-gauges";
import { findFrame, type FinishedFrame } from "../device/line-state";
import type { DeviceZeroCheck } from "../device/zero-check";

/** A finished frame: what queues, and what the verdict's screen shows. */
export type Finished = {
  readonly entry: QueuedInspection;
  readonly shown: FinishedFrame;
  /** The frame may pass, as far as this device knows. */
  readonly holds: boolean;
};

type Known = {
  readonly kit: StationKit | null;
  readonly plan: StationPlan;
  readonly keying: KeyingPlan;
  readonly checks: readonly DeviceZeroCheck[];
};

/** Judges a frame whose readings are all there, by the same core as the server, with what the device knows of the gauges. */
export function finishFrame(session: KeyingSession, { kit, plan, keying, checks }: Known, finish: Finish): Finished {
  const compiled = compileMeasurement(keying.names, plan.drawing, keying.measuring);
  const inspection = toInspection(session, keying, finish);
  const gauges = gaugeDoubtsOf(
    compiled,
    plan.drawing,
    session.readings.map((reading) => ({
      gauge: reading?.gauge ?? null,
      atMs: session.startedAt + (reading?.offsetMs ?? 0) - (finish.clockSkewMs ?? 0),
      value: reading?.value ?? null,
      taken: reading !== null && reading.state !== "cannot",
    })),
    kit,
    checks,
  );
  const { judgement } = judgeInspection(deviceEvidence(plan.drawing, compiled, inspection, gauges.doubts));
  return {
    entry: {
      inspection,
      deviceVerdict: judgement.verdict,
      queuedAt: finish.finishedAt,
      state: "waiting",
      refusal: null,
    },
    shown: {
      inspection,
      plan,
      gauges,
      startedAt: session.startedAt,
      position: findFrame(kit, session.serial)?.frame.position ?? null,
    },
    holds: judgement.holdsFrame || gauges.overdue.length > 0,
  };
}
