import { compileMeasurement, measureFrame } from "@/lib/core/metrology/measure-frame";
import { judgeFrame } from "@/lib/quality/judge-frame";
import type { Verdict } from "@/lib/quality/verdict-words";
import type { StationKit, StationPlan } from "@/lib/schemas/station-package";
import type { QueuedInspection, SentInspection } from "./device-database";
import { type Finish, keyedValues, type KeyingPlan, type KeyingSession, toInspection } from "./keying-session";
import { countBatch, findFrame, type FinishedFrame, type LineState, ownChecks } from "./line-state";
import { gaugeDoubtsOf } from "./station-gauges";
import { type DeviceZeroCheck, withChecks } from "./zero-check";

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
  const compiled = compileMeasurement(keying.names, plan.drawing);
  const inspection = toInspection(session, keying, finish);
  const gauges = gaugeDoubtsOf(
    compiled,
    session.readings.map((reading) => ({
      gauge: reading?.gauge ?? null,
      atMs: session.startedAt + (reading?.offsetMs ?? 0) - (finish.clockSkewMs ?? 0),
    })),
    kit,
    checks,
  );
  const judgement = judgeFrame(plan.drawing, compiled, measureFrame(compiled, keyedValues(session)), gauges.doubts);
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

/** The kit with a frame that was just measured here. */
export function withFrameDone(kit: StationKit, serial: string, verdict: Verdict): StationKit {
  const found = findFrame(kit, serial);
  if (found === null) return kit;
  return {
    ...kit,
    frames: kit.frames.map((each) =>
      each.batch !== found.batch
        ? each
        : {
            ...each,
            frames: each.frames.map((frame) =>
              frame.serial === serial
                ? { ...frame, verdict, inspections: frame.inspections + 1, state: "measured" }
                : frame,
            ),
          },
    ),
  };
}

type OwnWork = Pick<LineState, "queue" | "checks" | "sentChecks"> & {
  /** What the server took after the kit was read. */
  readonly since: readonly SentInspection[];
};

/** The kit as the server gave it, with what this device did that is not in it yet: the device writes only what it was given. */
export function withOwnWork(given: StationKit, { queue, since, checks, sentChecks }: OwnWork): StationKit {
  const measured = [
    ...since.map(({ serial, frameVerdict }) => ({ serial, verdict: frameVerdict })),
    ...queue.map(({ inspection, deviceVerdict }) => ({ serial: inspection.serial, verdict: deviceVerdict })),
  ];
  const kit = withChecks(given, ownChecks({ checks, sentChecks }));
  return measured.reduce((before, { serial, verdict }) => withFrameDone(before, serial, verdict), kit);
}

/** Every frame of the batch that its plan asks for is measured. */
export function isBatchDone(kit: StationKit | null, key: string): boolean {
  const batch = kit?.batches.find((one) => one.key === key);
  if (batch === undefined) return false;
  const { planned, measured } = countBatch(kit, batch);
  return planned > 0 && measured >= planned;
}
