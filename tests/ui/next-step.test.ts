import { describe, expect, it } from "vitest";
import { bannerOf, type FrameStands, labelMarks, nextStep } from "@/app/line/_components/verdict/next-step";
import type { FrameState } from "@/lib/quality/frame-state";
import { shipAnswer } from "@/lib/quality/ship-answer";
import { VERDICTS } from "@/lib/quality/verdict-words";

const GOOD: FrameStands = {
  verdict: "conforms",
  isHeld: false,
  isWithdrawn: false,
  isSent: true,
  batch: "B-1",
  batchHeld: false,
  left: 0,
  isAgain: false,
  isRefused: false,
};

const EVERY: readonly FrameStands[] = VERDICTS.flatMap((verdict) =>
  [true, false].flatMap((isHeld) =>
    [true, false].flatMap((isSent) =>
      [true, false].flatMap((batchHeld) =>
        [0, 1, 3].map((left) => ({ ...GOOD, verdict, isHeld, isSent, batchHeld, left })),
      ),
    ),
  ),
);

/** What the dock is told of the same frame, by the rule of the ship scan itself. */
function dock({ isHeld, isSent, batchHeld, left, batch }: FrameStands): "go" | "stop" {
  const now = new Date("2026-06-03T10:00:00Z");
  const state: FrameState = !isSent ? "unmeasured" : isHeld ? "held" : "measured";
  const frame = {
    serial: "F-1",
    state,
    verdict: null,
    leaseDeviceId: null,
    concessionUntil: null,
    shippedAt: null,
    reasons: [],
  };
  const heldAt = batchHeld ? now : null;
  const counts = {
    frames: 4,
    asked: 4,
    missing: left,
    measured: 4 - left,
    isDrawn: true,
    bySample: false,
    found: 0,
    isRiskTaken: false,
    capability: [],
    lot: null,
    isPlanKept: true,
  };
  return shipAnswer("F-1", frame, { key: batch, heldAt, ...counts }, now).answer;
}

describe("the step after a frame", () => {
  it("never says that the ship scan answers go where the dock would be told to stop", () => {
    const told = EVERY.map((stands) => [nextStep(stands, null).text.endsWith("Can ship."), dock(stands)]);
    expect(told.filter(([saysGo, answer]) => saysGo !== (answer === "go"))).toEqual([]);
    expect(told.some(([saysGo]) => saysGo)).toBe(true);
  });

  it("sends no held frame to the good rack, and says so largest and on the label", () => {
    for (const stands of EVERY.filter(({ isHeld }) => isHeld)) {
      expect(nextStep(stands, null).title).not.toMatch(/good frames/);
      expect(bannerOf(stands)).not.toBe("conforms");
      expect(labelMarks(stands)).toContain("held");
    }
    expect(nextStep({ ...GOOD, isHeld: true }, null).text).toMatch(/its gauge proves nothing/);
  });

  it("names what the ship scan waits for", () => {
    const text = (change: Partial<FrameStands>) => nextStep({ ...GOOD, ...change }, null).text;
    expect(text({ batchHeld: true })).toBe("Batch B-1 is held: until somebody has decided, its frames cannot ship.");
    expect(text({ left: 3 })).toBe("Can ship once the 3\u00a0frames left of its batch are measured.");
    expect(text({ left: 1, isSent: false })).toBe(
      "Can ship once its readings are on the server and the 1\u00a0frame left of its batch is measured.",
    );
  });

  it("calls nothing good that was measured before until the server has judged all of it together", () => {
    const step = nextStep({ ...GOOD, isAgain: true, isSent: false }, null);
    expect(step.title).toBe("Label it, keep it at the station");
    expect(nextStep({ ...GOOD, isAgain: true }, null).title).toBe("To the rack of good frames");
  });

  it("sends nothing to the rack of good frames that the server did not take", () => {
    expect(nextStep({ ...GOOD, isSent: false, isRefused: true }, null).title).toBe("Decide what the server asks");
  });

  it("prints no verdict on the label of a withdrawn inspection", () => {
    expect(labelMarks({ ...GOOD, isWithdrawn: true })).toEqual(["not measured"]);
    expect(labelMarks(GOOD)).toEqual(["conforms"]);
  });

  it("says what helps by what was in doubt: a warm shell is not cleaned, and a contradiction not measured away", () => {
    const title = (code: NonNullable<FrameStands["code"]>) =>
      nextStep({ ...GOOD, verdict: "not proven", isHeld: true, code }, null).title;
    expect(title("temperature")).toBe("Let it settle, measure again");
    expect(title("sweep-not-closed")).toBe("Seat the indicator, sweep again");
    expect(title("no-gauge")).toBe("Measure again, gauge in order");
    expect(title("disagreement")).toBe("Label it, call the engineer");
    expect(nextStep({ ...GOOD, verdict: "not proven", isHeld: true }, null).title).toBe("Clean it and measure again");
  });
});
