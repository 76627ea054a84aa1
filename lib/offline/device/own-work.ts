import type { Verdict } from "@/lib/quality/verdict-words";
import type { StationKit } from "@/lib/schemas/station-package";
import type { SentInspection } from "./device-database";
import { countBatch, findFrame, type LineState, ownChecks } from "./line-state";
import { withChecks } from "./zero-check";

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
