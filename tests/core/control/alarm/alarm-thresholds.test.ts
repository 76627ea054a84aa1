import { describe, expect, it } from "vitest";
import { alarmBudget } from "@/lib/core/control/alarm/alarm-budget";
import { alarmThresholds } from "@/lib/core/control/alarm/alarm-thresholds";
import { vectorSumRunLength, vectorThresholds } from "@/lib/core/control/alarm/vector-thresholds";
import { cusumRunLengthOneSided } from "@/lib/core/control/run-length/cusum-run-length";
import { normalSf } from "@/lib/core/distributions/normal";
import { expectDigits } from "@/tests/helpers/expect-digits";
import { cases } from "@/tests/reference/alarm-thresholds.json";

/** Within half of the last printed decimal. */
function expectPrinted(actual: number, printed: number, decimals: number): void {
  expect(Math.abs(actual - printed), `${actual} against ${printed}`).toBeLessThanOrEqual(0.5001 * 10 ** -decimals);
}

describe("alarmThresholds", () => {
  it.each(cases)("gives the printed digits at a run length of $runLength", ({ runLength, oneSided, twoSided }) => {
    for (const [gap, expected] of [
      [Infinity, oneSided],
      [0, twoSided],
    ] as const) {
      const { slow, fast, limit } = alarmThresholds(runLength, gap);
      [slow, fast, limit].forEach((value, place) => expectPrinted(value, expected[place] ?? Number.NaN, 4));
    }
  });

  it("adds the rates of both sides between one-sided and two-sided", () => {
    // union of two one-sided tests seen from one edge: the other one sees the process twice the edge away
    const [runLength, gap] = [8580, 0.4];
    const { slow, fast, limit } = alarmThresholds(runLength, gap);
    for (const [k, h] of [
      [0.5, slow],
      [1.25, fast],
    ] as const) {
      const rate = 1 / cusumRunLengthOneSided({ k, h }) + 1 / cusumRunLengthOneSided({ k, h }, -gap);
      expectDigits((0.45 / rate) * 1, runLength, 9);
    }
    expectDigits(0.1 / (normalSf(limit) + normalSf(limit + gap)), runLength, 9);
  });

  it("lies between the one-sided and the two-sided thresholds and falls with the gap", () => {
    const slow = [0, 0.2, 0.5, 0.9, 1.5].map((gap) => alarmThresholds(3000, gap).slow);
    expect(slow).toEqual([...slow].sort((a, b) => b - a));
    expect(alarmThresholds(3000, 1.5)).toEqual(alarmThresholds(3000));
  });

  it("refuses run lengths that no stream gets", () => {
    expect(() => alarmThresholds(369)).toThrow("runLength must be from 370");
    expect(() => alarmThresholds(Number.NaN)).toThrow("runLength must be from 370");
    expect(() => alarmThresholds(1000, -1)).toThrow("gap must be >= 0");
  });
});

describe("vectorThresholds", () => {
  it.each(cases)("gives the printed digits at a run length of $runLength", ({ runLength, vector }) => {
    const { slow, fast, limit } = vectorThresholds(runLength);
    expectPrinted(slow, vector[0] ?? Number.NaN, 4);
    expectPrinted(fast, vector[1] ?? Number.NaN, 4);
    expectPrinted(limit * limit, vector[2] ?? Number.NaN, 3);
  });

  it("has the run length of another program, near the published 200", () => {
    // 201.5: alarm-thresholds.source.md; 200: Crosier 1988, Technometrics 30 291-303
    expectPrinted(vectorSumRunLength(0.5, 5.5), 201.5, 1);
  });

  it("takes the one-sided thresholds at 3.3 A from a radius of 1 on", () => {
    // simulation of another program, 10 %
    const { slow, fast } = vectorThresholds(8580, 2);
    const outwards = alarmThresholds(3.3 * 8580);
    expect([slow, fast]).toEqual([outwards.slow, outwards.fast]);
    expect(() => vectorThresholds(8580, -1)).toThrow("radius must be >= 0");
  });
});

describe("alarmBudget", () => {
  const streams = Array.from({ length: 52 }, (_, place) => ({ id: String(place), frames: 165 }));

  it("gives 52 equal streams of 165 frames one false alarm together", () => {
    // 165 x 52 / 1
    expect(alarmBudget(streams, 1).streams[0]?.runLength).toBe(8580);
    expectDigits(alarmBudget(streams, 1).expected, 1, 12);
  });

  it("gives a stream of double weight twice the false alarms", () => {
    const [first, second] = alarmBudget(
      [
        { id: "a", frames: 300, weight: 2 },
        { id: "b", frames: 300 },
      ],
      0.5,
    ).streams;
    // 300 x 3 / (0.5 x 2) and 300 x 3 / 0.5
    expect([first?.runLength, second?.runLength]).toEqual([900, 1800]);
  });

  it("keeps a stream of two frames at 370 and says what that costs", () => {
    const { streams: shares, expected } = alarmBudget([...streams, { id: "rare", frames: 2 }], 1);
    expect(shares.at(-1)?.runLength).toBe(370);
    // 52 / 53 of the budget and 2 frames in 370
    expectDigits(expected, 52 / 53 + 2 / 370, 12);
  });

  it("refuses a budget of 0, no stream, a stream twice and weights of 0", () => {
    expect(() => alarmBudget(streams, 0)).toThrow("budget must be above 0; got 0");
    expect(() => alarmBudget([], 1)).toThrow("at least 1");
    expect(() => alarmBudget([...streams, { id: "0", frames: 1 }], 1)).toThrow("got 0 twice");
    expect(() => alarmBudget([{ id: "a", frames: 1, weight: 0 }], 1)).toThrow("weight above 0");
  });
});
