import { describe, expect, it } from "vitest";
import { changeEnd } from "@/lib/core/control/cases/change-end";
import { changeStart, type ChangeStartOptions, START_LOSS } from "@/lib/core/control/cases/change-start";
import { CoreError } from "@/lib/core/errors";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { START_FAULTS, startCoverage } from "@/tests/bench/signals-cases";
import { expectDigits } from "@/tests/helpers/expect-digits";

const SERIES = [0.4, -1.1, 0.7, 0.2, -0.3, 1.2, -0.8, 0.5, 1.9, 2.6, 1.4, 3.1, 2.2, 2.9];
const gainAt = (kind: "step" | "trend" | "spread" | "frames", place: number, options: ChangeStartOptions = {}) =>
  changeStart(SERIES, { ...options, kinds: [kind] }).profiles[0]?.gains[place] ?? NaN;

describe("changeStart", () => {
  it("gives the likelihood of each place as dense least squares do", () => {
    // Computed with numpy 2.4.6: generalised least squares of level and change with the covariance written out, the baseline's mean as
    // one more observation, ln det by slogdet.
    const before = { count: 6, sum: 0.8 };
    expectDigits(gainAt("step", 8, { before }), 33.31785714285714, 12);
    expectDigits(gainAt("trend", 8, { before }), 30.720848440899204, 12);
    expectDigits(gainAt("trend", 5, { before, wander: 0.4 }), 31.142473790158288, 12);
    expectDigits(gainAt("step", 9, { before, wander: 0.4 }), 29.99688000176455, 12);
    expectDigits(gainAt("step", 8), 33.215, 12);
    // n (v - 1 - ln v) by hand, v = 5.9983...
    expectDigits(gainAt("spread", 8), 18.575985107367366, 12);
  });

  it("gives frames that jump the likelihood of the best mixture", () => {
    // Largest over share and level by scipy 1.17.1, Nelder-Mead, less ln n.
    const values = [0.2, -0.7, 0.4, 6.1, 0.3, -0.2, 5.4, 0.8, 6.6, -0.5];
    const { profiles, kind } = changeStart(values, { kinds: ["frames", "step", "trend"] });
    expect(kind).toBe("frames");
    const gains = profiles[0]?.gains ?? new Float64Array();
    expectDigits(gains[0] ?? NaN, 94.68346645245364, 4);
    expectDigits(gains[3] ?? NaN, 97.69671371261553, 4);
    expectDigits(gains[6] ?? NaN, 65.06853301277361, 4);
  });

  it("holds every place within the loss in its interval", () => {
    const { earliest, latest, start, profiles, gain } = changeStart(SERIES);
    expect([earliest <= start, start <= latest]).toEqual([true, true]);
    for (const { gains } of profiles)
      for (const [place, own] of gains.entries())
        if (own >= gain - START_LOSS) expect(place >= earliest && place <= latest).toBe(true);
  });

  it("refuses what is no series", () => {
    expect(() => changeStart([])).toThrow(CoreError);
    expect(() => changeStart([0, Number.NaN])).toThrow(CoreError);
    expect(() => changeStart([0], { kinds: [] })).toThrow(CoreError);
  });

  it("holds the true start in at least 93 %, at the signal and 30 frames later", { timeout: 240_000 }, () => {
    // Goals and mean lengths from the table in the design of signals: step of 2 sd 17 and 7 frames, 3 sd 8 and 2, 0.16 sd a frame 30
    // and 11. 80 seeded runs leave 0.03 of a standard error: the full figures are the bench's.
    const lengths: Readonly<Record<string, readonly [number, number]>> = {
      "step of 2 sd": [17, 7],
      "step of 3 sd": [8, 2],
      "trend of 0.16 sd a frame": [30, 11],
    };
    for (const fault of START_FAULTS.filter(({ name }) => name in lengths)) {
      const [atSignal, later] = startCoverage(fault, 80, 11);
      const [goal = 0, goalLater = 0] = lengths[fault.name] ?? [];
      expect(atSignal.covered, fault.name).toBeGreaterThanOrEqual(0.9);
      expect(later.covered, fault.name).toBeGreaterThanOrEqual(0.93);
      expect(atSignal.length, fault.name).toBeLessThanOrEqual(1.4 * goal);
      expect(later.length, fault.name).toBeLessThanOrEqual(1.4 * goalLater);
    }
  });
});

describe("changeEnd", () => {
  const random = createSeededGenerator(3);
  const noise = (n: number, shift: number) => Array.from({ length: n }, () => shift + random.normal());

  it("finds where a step went back, and nothing where it goes on", () => {
    const step = noise(30, 4);
    expect(changeEnd([...step, ...noise(30, 0)], 0, "step")).toBe(29);
    expect(changeEnd(step, 0, "step")).toBeNull();
  });

  it("finds where a trend jumped back", () => {
    const trend = Array.from({ length: 30 }, (_, age) => 0.3 * (age + 1) + random.normal());
    expect(changeEnd([...trend, ...noise(25, 0)], 0, "trend")).toBe(29);
  });

  it("takes the last frame that jumped as the end of frames", () => {
    const frames = Array.from({ length: 31 }, (_, at) => (at % 3 === 0 ? 9 : 0) + random.normal());
    expect(changeEnd([...frames, ...noise(30, 0)], 0, "frames")).toBe(30);
  });

  it("refuses a start outside", () => {
    expect(() => changeEnd([1, 2], 2, "step")).toThrow(CoreError);
  });
});
