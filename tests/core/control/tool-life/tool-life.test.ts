import { describe, expect, it } from "vitest";
import { toolLife } from "@/lib/core/control/tool-life/tool-life";
import { autocorrelatedLine, slopeSpread, spreadQuantile } from "@/lib/core/control/tool-life/tool-life-regression";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { expectDigits } from "@/tests/helpers/expect-digits";

/** Seat means in mm of one reamer: start, slope a frame, noise of 2 µm with an autocorrelation. */
function reamer(n: number, seed: number, rho = 0, slope = -0.0002): number[] {
  const { normal } = createSeededGenerator(seed);
  let noise = normal();
  return Array.from({ length: n }, (_, index) => {
    if (index > 0) noise = rho * noise + Math.sqrt(1 - rho * rho) * normal();
    return 40.98 + slope * index + 0.002 * noise;
  });
}

const LIMITS = { lower: 40.953, upper: 40.997 };

/** Recomputed with numpy 2.4.6 from the whole covariance matrix. */
const GLS = { slope: 0.288938053097345, sigma: 0.750744145776538, logRatio: -0.437868827742625 };

describe("the line of a tool", () => {
  it("is the ordinary least-squares line where neighbours do not correlate", () => {
    // The candidate rho = 0 alone is the ordinary line; slope and its error by hand of the usual formulae.
    const x = [0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11];
    const y = x.map((each) => 2 * each + (each % 2 === 0 ? 1 : -1));
    const line = autocorrelatedLine(x, y);
    const ols = { ...line, candidates: [{ ...line.candidates[0]!, weight: 1 }] };
    const xm = 5.5;
    const sxx = x.reduce((sum, each) => sum + (each - xm) ** 2, 0);
    const slope = x.reduce((sum, each, index) => sum + (each - xm) * y[index]!, 0) / sxx;
    expectDigits(ols.candidates[0]!.slope, slope, 12);
    const ym = y.reduce((sum, each) => sum + each, 0) / 12;
    const rss = x.reduce((sum, each, index) => sum + (y[index]! - ym - slope * (each - xm)) ** 2, 0);
    // t(0.975; 10) = 2.228139 (any t table)
    const half = 2.2281388519649385 * Math.sqrt(rss / 10 / sxx);
    expectDigits(spreadQuantile(slopeSpread(ols), 0.975, 10), slope + half, 9);
  });

  it("agrees with generalised least squares by whole matrices", () => {
    const x = [0, 1, 3, 4, 8, 9, 11, 12];
    const y = [1, 1.5, 0.7, 2.1, 3.9, 3.2, 4.4, 4.1];
    const line = autocorrelatedLine(x, y);
    const at = line.candidates.findIndex(({ rho }) => Math.abs(rho - 0.5) < 1e-9);
    // numpy 2.4.6: R = 0.5 ** abs(x_i - x_j); slope, sigma of y ~ R sigma^2 by solve()
    expectDigits(line.candidates[at]!.slope, GLS.slope, 9);
    expectDigits(line.candidates[at]!.sigma, GLS.sigma, 9);
    const logRatio = Math.log(line.candidates[at]!.weight / line.candidates[0]!.weight);
    expectDigits(logRatio, GLS.logRatio, 8);
  });
});

describe("toolLife", () => {
  it.each([0, 0.3, 0.6])("covers slope and crossing at the stated rate, autocorrelation %s", (rho) => {
    const tries = 250;
    const slope = -0.0002;
    // the line starts at 40.980 and meets 40.953 at 135 frames, 76 after the newest of 60
    const truth = 135 - 59;
    let [slopes, crossings, bounds] = [0, 0, 0];
    for (let index = 0; index < tries; index++) {
      const { tools, framesLeft } = toolLife({
        values: reamer(60, 900 + index, rho),
        toolChanges: [0],
        limits: LIMITS,
      });
      const trend = tools[0]!.trend;
      if (!trend.ok || !framesLeft.ok) throw new Error("no trend");
      const [low, high] = trend.value.slopeInterval;
      if (low <= slope && slope <= high) slopes++;
      const [soon, late] = framesLeft.value.interval;
      if (soon <= truth && (late === null || truth <= late)) crossings++;
      if (framesLeft.value.untilBound! < truth) bounds++;
    }
    // nominal 0.95, three standard errors are 0.041; not knowing the autocorrelation is paid for by wider intervals
    for (const count of [slopes, crossings]) {
      expect(count / tries).toBeGreaterThan(0.909);
      expect(count / tries).toBeLessThan(0.996);
    }
    // the bound of a single frame lies before the line's crossing nearly always
    expect(bounds / tries).toBeGreaterThan(0.96);
  });

  it("makes a prediction bound that one frame passes at the stated rate", () => {
    const tries = 500;
    let passed = 0;
    for (let index = 0; index < tries; index++) {
      const values = reamer(60, 30_000 + index, 0.3);
      const { framesLeft } = toolLife({ values: values.slice(0, 40), toolChanges: [], limits: LIMITS });
      if (!framesLeft.ok) throw new Error(framesLeft.reason);
      const { framesAhead, bound } = framesLeft.value.bound[1]!;
      if (values[39 + framesAhead]! < bound) passed++;
    }
    // nominal 0.05; three standard errors are 0.029
    expect(passed / tries).toBeGreaterThan(0.02);
    expect(passed / tries).toBeLessThan(0.08);
  });

  it("starts anew at every tool change and follows the last tool", () => {
    const values = [...reamer(40, 1), ...reamer(30, 2, 0, 0), ...reamer(50, 3)];
    const life = toolLife({ values, toolChanges: [40, 70], limits: LIMITS });
    expect(life.tools.map(({ first, last }) => [first, last])).toEqual([
      [0, 39],
      [40, 69],
      [70, 119],
    ]);
    const slopes = life.tools.map(({ trend }) => (trend.ok ? trend.value.drifts : null));
    expect(slopes).toEqual([true, false, true]);
    const alone = toolLife({ values: values.slice(70), toolChanges: [], limits: LIMITS });
    if (!life.framesLeft.ok || !alone.framesLeft.ok) throw new Error("no frames left");
    expectDigits(life.framesLeft.value.estimate, alone.framesLeft.value.estimate, 6);
    expect(life.framesLeft.value.limit).toBe("lower");
  });

  it("counts frames that were not measured", () => {
    const values = reamer(60, 4);
    const every = toolLife({ values, toolChanges: [], limits: LIMITS });
    const fifth = toolLife({
      values,
      toolChanges: [],
      limits: LIMITS,
      frameCounts: values.map((_, index) => 5 * index),
    });
    if (!every.framesLeft.ok || !fifth.framesLeft.ok) throw new Error("no frames left");
    // autocorrelation per frame fades over five frames, so that the two differ a little
    expect(Math.abs(fifth.framesLeft.value.estimate / every.framesLeft.value.estimate - 5)).toBeLessThan(0.4);
  });

  it("turns with the values: a rising size meets the upper limit in as many frames", () => {
    const values = reamer(60, 5);
    const falling = toolLife({ values, toolChanges: [], limits: LIMITS });
    const rising = toolLife({
      values: values.map((value) => 80 - value),
      toolChanges: [],
      limits: { lower: 80 - LIMITS.upper, upper: 80 - LIMITS.lower },
    });
    if (!falling.framesLeft.ok || !rising.framesLeft.ok) throw new Error("no frames left");
    expect(rising.framesLeft.value.limit).toBe("upper");
    expectDigits(rising.framesLeft.value.estimate, falling.framesLeft.value.estimate, 5);
    expect(rising.framesLeft.value.untilBound).toBe(falling.framesLeft.value.untilBound);
  });

  it("says that nothing is left where the limit is already met", () => {
    const { framesLeft } = toolLife({ values: reamer(200, 6), toolChanges: [], limits: LIMITS });
    expect(framesLeft).toMatchObject({ ok: true, value: { estimate: 0, untilBound: 0 } });
  });

  it("leaves out frames with an assigned cause", () => {
    const values = reamer(60, 7);
    const spoiled = values.map((value, index) => (index === 50 ? value + 0.1 : value));
    const { tools } = toolLife({ values: spoiled, toolChanges: [], limits: LIMITS, excluded: [50] });
    expect(tools[0]!.values).toBe(59);
    expect(tools[0]!.trend).toMatchObject({ ok: true, value: { drifts: true } });
  });

  it.each([
    ["no value", [], [], "no value yet"],
    ["one value", [40.98], [], "1 frame since the tool change"],
    ["all equal", new Array<number>(20).fill(40.98), [], "All values since the tool change are equal"],
    ["one exact line", Array.from({ length: 20 }, (_, index) => 40 - index), [], "one line exactly"],
    ["a tool change at every frame", reamer(12, 8), reamer(12, 8).map((_, index) => index), "changes at every frame"],
    ["short tools", reamer(12, 8), [4, 8], "4 frames since the tool change: a trend needs at least 10. No tool before"],
  ])("gives a reason in words for %s", (_, values, toolChanges, reason) => {
    const { framesLeft } = toolLife({ values, toolChanges, limits: LIMITS });
    expect(framesLeft).toMatchObject({ ok: false, reason: expect.stringContaining(reason) });
  });

  it("gives a reason where no limit can be reached", () => {
    const none = toolLife({ values: reamer(60, 9), toolChanges: [], limits: { lower: null, upper: null } });
    expect(none.framesLeft).toMatchObject({ ok: false, reason: expect.stringContaining("no limit") });
    const other = toolLife({ values: reamer(60, 9), toolChanges: [], limits: { lower: null, upper: 41 } });
    expect(other.framesLeft).toMatchObject({
      ok: false,
      reason: expect.stringContaining("falls, and there is no lower"),
    });
  });

  it("refuses wrong input", () => {
    const values = reamer(20, 1);
    const ask = (more: object) => () => toolLife({ values, toolChanges: [], limits: LIMITS, ...more });
    expect(ask({ limits: { lower: 2, upper: 1 } })).toThrow("limits.lower must be below");
    expect(ask({ values: [NaN] })).toThrow("finite");
    expect(ask({ toolChanges: [20] })).toThrow("toolChanges");
    expect(ask({ frameCounts: [1] })).toThrow("frameCounts must have 20");
    expect(ask({ frameCounts: values.map(() => 1) })).toThrow("increase");
    expect(ask({ confidence: 1 })).toThrow("confidence");
  });
});
