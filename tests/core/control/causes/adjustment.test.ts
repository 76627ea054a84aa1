import { describe, expect, it } from "vitest";
import { adjustment } from "@/lib/core/control/causes/adjustment";
import type { ClockVector } from "@/lib/core/control/charts/hotelling-target";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { expectDigits } from "@/tests/helpers/expect-digits";

/** Offsets in mm about a mean, sd 0.012 each way. */
function offsets(n: number, mean: ClockVector, seed: number): ClockVector[] {
  const random = createSeededGenerator(seed);
  return Array.from(
    { length: n },
    () => [mean[0] + 0.012 * random.normal(), mean[1] + 0.012 * random.normal()] as const,
  );
}
const at = (length: number, degrees: number): ClockVector => [
  length * Math.cos((degrees * Math.PI) / 180),
  length * Math.sin((degrees * Math.PI) / 180),
];
const adviceOf = (vectors: readonly ClockVector[], options = {}) => {
  const answer = adjustment(vectors, { zoneRadius: 0.05, ...options });
  if (!answer.ok) throw new Error(answer.reason);
  return answer.value;
};

describe("adjustment", () => {
  it("moves the locator against the mean: 0.030 mm towards 4 o'clock asks for 0.03 towards 10", () => {
    const { advice, significant, outsideNow, outsideAfter } = adviceOf(offsets(200, at(0.03, 120), 41));
    expect(significant).toBe(true);
    if (advice.kind !== "move") throw new Error(advice.because);
    expect(advice.move.by).toBeGreaterThan(0.027);
    expect(advice.move.by).toBeLessThan(0.033);
    expect(advice.move.towardsClock).toBe("10");
    expect(advice.move.interval[0]).toBeLessThan(0.03);
    expect(advice.move.interval[1]).toBeGreaterThan(0.03);
    // elementary: a Rice tail beyond 0.05 with offset 0.03 and sd 0.012 is a few percent, without offset exp(-0.05^2 / (2 0.012^2))
    expect(outsideNow).toBeGreaterThan(0.03);
    expect(outsideAfter / Math.exp(-(0.05 ** 2) / (2 * 0.012 ** 2))).toBeGreaterThan(0.2);
    expect(outsideAfter / Math.exp(-(0.05 ** 2) / (2 * 0.012 ** 2))).toBeLessThan(5);
  });

  it("calls a mean on the axis significant at the stated rate only", () => {
    const tries = 2000;
    let called = 0;
    for (let seed = 0; seed < tries; seed++) if (adviceOf(offsets(12, [0, 0], 5000 + seed)).significant) called++;
    // nominal 0.05, three standard errors are 0.015
    expect(called / tries).toBeGreaterThan(0.035);
    expect(called / tries).toBeLessThan(0.065);
  });

  it("does not call a mean significant because neighbouring frames are alike", () => {
    // First-order process of each component, correlation 0.6; by simulation the test that takes 60 frames for independent
    // calls a mean on the axis in 49 % of cases (numpy, 3,000 runs). Nominal 0.05, three standard errors are 0.021.
    const tries = 1000;
    const random = createSeededGenerator(77);
    let called = 0;
    let warned = 0;
    for (let run = 0; run < tries; run++) {
      let [up, front] = [random.normal(), random.normal()];
      const alike = Array.from({ length: 60 }, () => {
        [up, front] = [0.6 * up + 0.8 * random.normal(), 0.6 * front + 0.8 * random.normal()];
        return [up, front] as const;
      });
      const answer = adjustment(alike, { zoneRadius: 5 });
      if (!answer.ok) throw new Error(answer.reason);
      if (answer.value.significant) called++;
      if (answer.warnings.length > 0 && answer.value.target.effectiveFrames < 40) warned++;
    }
    expect(called / tries).toBeLessThan(0.075);
    expect(warned / tries).toBeGreaterThan(0.95);
    // elementary: the mean of n values of such a process has the variance of n (1 - r) / (1 + r) independent ones
    const alternating = offsets(40, [0, 0], 5).map(([up, front], index): ClockVector => {
      const sign = index % 2 === 0 ? 1 : -1;
      return [sign * Math.abs(up), sign * Math.abs(front)];
    });
    expect(adviceOf(alternating).target.effectiveFrames).toBe(40);
  });

  it("states an interval of the move that holds the true distance at least as often as stated", () => {
    const tries = 1000;
    let held = 0;
    for (let seed = 0; seed < tries; seed++) {
      const { advice } = adviceOf(offsets(30, at(0.03, 75), 9000 + seed));
      if (advice.kind === "move" && advice.move.interval[0] <= 0.03 && 0.03 <= advice.move.interval[1]) held++;
    }
    // nominal 0.95; the circle of two components is wider than the distance alone needs
    expect(held / tries).toBeGreaterThan(0.95);
    expect(held / tries).toBeLessThan(1);
  });

  it("advises hardly any move for a mean on the axis", () => {
    let moves = 0;
    for (let seed = 0; seed < 1000; seed++)
      if (adviceOf(offsets(25, [0, 0], 40_000 + seed)).advice.kind === "move") moves++;
    // significance alone would move in 5 % of cases; the dead band of 0.01 leaves almost none
    expect(moves).toBeLessThan(5);
    let without = 0;
    for (let seed = 0; seed < 1000; seed++)
      if (adviceOf(offsets(25, [0, 0], 40_000 + seed), { deadBand: 0 }).advice.kind === "move") without++;
    expect(without).toBeGreaterThan(30);
  });

  it("does not move for a significant mean inside the dead band", () => {
    const vectors = offsets(400, at(0.006, 30), 3);
    const value = adviceOf(vectors);
    expect(value.significant).toBe(true);
    expect(value.advice).toMatchObject({ kind: "leave", because: expect.stringMatching(/dead band/) });
    expect(adviceOf(vectors, { deadBand: 0.001 }).advice.kind).toBe("move");
  });

  it("waits for frames at the new level after an adjustment", () => {
    expect(adviceOf(offsets(8, at(0.04, 200), 9), { settle: 10 }).advice).toMatchObject({
      kind: "leave",
      because: expect.stringMatching(/only 8 frames/),
    });
  });

  it("turns with the clock and scales with the unit", () => {
    const vectors = offsets(60, at(0.03, 120), 12);
    const turned = vectors.map(([up, front]) => [-front, up] as const);
    const um = vectors.map(([up, front]) => [1000 * up, 1000 * front] as const);
    const [one, other, scaled] = [adviceOf(vectors), adviceOf(turned), adviceOf(um, { zoneRadius: 50 })];
    expectDigits(other.t2, one.t2, 9);
    expectDigits(scaled.t2, one.t2, 9);
    expectDigits(scaled.outsideNow, one.outsideNow, 8);
    if (one.advice.kind !== "move" || other.advice.kind !== "move") throw new Error("no move");
    const apart = (other.advice.move.towardsDegrees - one.advice.move.towardsDegrees + 360) % 360;
    expectDigits(apart, 90, 9);
  });

  it("gives a reason in words where there is no answer, and refuses wrong input", () => {
    expect(adjustment([[0, 0]], { zoneRadius: 1 })).toMatchObject({ ok: false });
    expect(adjustment(Array(10).fill([1, 1]), { zoneRadius: 1 })).toMatchObject({ ok: false });
    const line = Array.from({ length: 10 }, (_, index) => [index, 0] as const);
    expect(adjustment(line, { zoneRadius: 1 })).toMatchObject({ ok: false });
    expect(() => adjustment(line, { zoneRadius: 0 })).toThrow(/zoneRadius/);
    expect(() => adjustment(line, { zoneRadius: 1, deadBand: -1 })).toThrow(/deadBand/);
    expect(() => adjustment([[Number.NaN, 0], ...line], { zoneRadius: 1 })).toThrow(/finite/);
  });
});
