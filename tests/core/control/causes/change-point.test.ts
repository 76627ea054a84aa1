import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { changePoint, type ChangePointOptions } from "@/lib/core/control/causes/change-point";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { expectDigits } from "@/tests/helpers/expect-digits";
import reference from "@/tests/reference/nile-change-point.json";

const nile = reference.cases[0]!;
const flow = nile.input.x;
const changeOf = (values: readonly number[], options: ChangePointOptions = {}) => {
  const result = changePoint(Object.freeze([...values]), options);
  if (!result.ok) throw new Error(result.reason);
  return result.value;
};

/** The best step by fitting every split anew. */
function slowStep(values: readonly number[]) {
  const squares = (part: readonly number[]) => {
    const mean = part.reduce((sum, value) => sum + value, 0) / part.length;
    return part.reduce((sum, value) => sum + (value - mean) ** 2, 0);
  };
  const splits = Array.from({ length: values.length - 3 }, (_, k) => k + 2);
  return Math.min(...splits.map((k) => squares(values.slice(0, k)) + squares(values.slice(k))));
}

describe("changePoint", () => {
  it("finds the step in the flow of the Nile after 1898 with its published statistics", () => {
    // Cobb 1978, Biometrika 65; Zeileis et al. 2003, Computational Statistics and Data Analysis 44
    const change = changeOf(flow);
    expect(change.kind).toBe("step");
    expect(nile.input.first_year + change.lastBefore).toBe(nile.expected.year);
    expect(change.lastBefore + 1).toBe(nile.expected.last_obs_before_change);
    expectDigits(change.residualsWithout, nile.computed.rss0, 12);
    expectDigits(change.residualsWith, nile.computed.rss1, 12);
    expect(Math.abs(change.statistic - nile.expected.supF)).toBeLessThan(0.005);
    expectDigits(change.statistic, nile.computed.F, 11);
    expectDigits(change.before, nile.computed.means[0]!, 12);
    expectDigits(change.after, nile.computed.means[1]!, 12);
    expect(change.significant).toBe(true);
    expect(change.pValue).toBeLessThan(1e-9);
    expect(change.confidenceSet).toContain(27);
    expect(change.confidenceSet.length).toBeLessThan(15);
  });

  it("finds where a drift begins, its slope and the level it has reached", () => {
    const noise = [0.1, -0.1, -0.1, 0.1];
    const values = Array.from({ length: 60 }, (_, k) => 20 + Math.max(0, k - 39) * 0.5 + noise[k % 4]!);
    const change = changeOf(values);
    expect(change.kind).toBe("drift");
    expect(Math.abs(change.lastBefore - 39)).toBeLessThanOrEqual(1);
    expect(Math.abs(change.slope - 0.5)).toBeLessThan(0.02);
    expect(Math.abs(change.after - 30)).toBeLessThan(0.2);
    expect(change.confidenceSet).toContain(39);
    expect(changeOf(values, { kinds: ["step"] }).kind).toBe("step");
  });

  it("agrees with fitting every split anew", () => {
    const series = fc.array(fc.integer({ min: -50, max: 50 }), { minLength: 6, maxLength: 40 });
    fc.assert(
      fc.property(series, (values) => {
        const result = changePoint(values, { kinds: ["step"] });
        if (!result.ok) return;
        expectDigits(result.value.residualsWith + 1, slowStep(values) + 1, 10);
      }),
      { seed: 41, numRuns: 200 },
    );
  });

  it("keeps its place when values are shifted and scaled", () => {
    const moved = changeOf(flow.map((value) => 1e6 + value / 8));
    const plain = changeOf(flow);
    expect(moved.lastBefore).toBe(plain.lastBefore);
    expect(moved.confidenceSet).toEqual(plain.confidenceSet);
    expectDigits(moved.statistic, plain.statistic, 8);
  });

  it("signals no more than one in twenty series without a change, and holds the place of a step and of a drift as stated", () => {
    const generator = createSeededGenerator(41);
    const runs = 1000;
    const rate = (holds: (values: number[]) => boolean, mean: (k: number) => number) => {
      let count = 0;
      for (let run = 0; run < runs; run++) {
        if (holds(Array.from({ length: 60 }, (_, k) => mean(k) + generator.normal()))) count++;
      }
      return count / runs;
    };
    // three standard errors of 5 % in 1000 runs: 2 %
    const falseAlarms = rate(
      (values) => changeOf(values).significant,
      () => 0,
    );
    expect(falseAlarms).toBeLessThan(0.07);
    expect(falseAlarms).toBeGreaterThan(0.005);
    const step = rate(
      (values) => changeOf(values, { kinds: ["step"] }).confidenceSet.includes(29),
      (k) => (k < 30 ? 0 : 1.5),
    );
    expect(step).toBeGreaterThan(0.93);
    const drift = rate(
      (values) => changeOf(values, { kinds: ["drift"] }).confidenceSet.includes(29),
      (k) => Math.max(0, k - 29) * 0.15,
    );
    expect(drift).toBeGreaterThan(0.93);
  });

  it.each([
    ["too few values", [1, 2, 3]],
    ["all values equal", [3, 3, 3, 3, 3, 3]],
    ["a step without any noise", [1, 1, 1, 5, 5, 5]],
  ])("answers with a reason for %s", (_, values) => {
    expect(changePoint(values)).toEqual({ ok: false, reason: expect.stringMatching(/.{20}/) });
  });

  it("is the same at any offset that leaves the values their digits", () => {
    const random = createSeededGenerator(9);
    // multiples of 1 / 1024, which an offset of 1e12 leaves exact
    const values = Array.from({ length: 80 }, (_, i) => Math.round(1024 * (random.normal() + (i < 50 ? 0 : 1))) / 1024);
    const plain = changeOf(values);
    for (const offset of [1e3, 1e6, 1e9, 1e12, -1e9]) {
      const moved = changeOf(values.map((value) => value + offset));
      expect(moved.confidenceSet).toEqual(plain.confidenceSet);
      for (const key of ["statistic", "pValue", "sigma", "residualsWith", "residualsWithout", "slope"] as const)
        if (plain[key] !== 0) expectDigits(moved[key], plain[key], 11);
      expectDigits(moved.after, plain.after + offset, 14);
    }
  });

  it("refuses values that are not finite and options outside their range", () => {
    expect(() => changePoint([1, 2, Number.NaN, 3, 4, 5])).toThrow(expect.objectContaining({ code: "not-finite" }));
    expect(() => changePoint(flow, { confidence: 1 })).toThrow(expect.objectContaining({ code: "out-of-range" }));
    expect(() => changePoint(flow, { kinds: [] })).toThrow(expect.objectContaining({ code: "invalid-argument" }));
  });
});
