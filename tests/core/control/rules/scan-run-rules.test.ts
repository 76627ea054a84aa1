import fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { ChartSignal } from "@/lib/core/control/rules/chart-signal";
import { EIGHT_TESTS, windowNeeded, ZONE_TESTS, type RunRule } from "@/lib/core/control/rules/run-rules";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { scanIndividuals, scanRunRules, type ChartLines } from "@/lib/core/control/rules/scan-run-rules";

const unit: ChartLines = { centre: 0, sigma: 1 };
const signalled = (values: number[], rules: readonly RunRule[], lines = unit) =>
  scanRunRules(Object.freeze(values) as number[], lines, rules).map(({ index, rule }) => `${rule}@${index}`);

/** The definitions of the rules, window by window: slow and obvious. */
function slowSignals(values: readonly number[], rules: readonly RunRule[], lines: ChartLines = unit): ChartSignal[] {
  const at = (line: unknown, index: number) => (Array.isArray(line) ? (line[index] as number) : (line as number));
  const signals: ChartSignal[] = [];
  values.forEach((_, last) => {
    for (const rule of rules) {
      const add = (side: ChartSignal["side"], points: number[]) =>
        signals.push({ index: last, rule: rule.id, side, points });
      const line = (index: number, sigmas: number) => at(lines.centre, index) + sigmas * at(lines.sigma, index);
      const above = (index: number, sigmas: number) => values[index]! > line(index, sigmas);
      const below = (index: number, sigmas: number) => values[index]! < line(index, -sigmas);
      const recent = (count: number) =>
        last + 1 < count ? null : Array.from({ length: count }, (_, k) => last - count + 1 + k);
      const step = (index: number) => Math.sign(values[index]! - values[index - 1]!);
      if (rule.test === "beyond-limit") {
        if (above(last, rule.sigmas ?? 3)) add("upper", [last]);
        if (below(last, rule.sigmas ?? 3)) add("lower", [last]);
      } else if (rule.test === "k-of-m") {
        for (const [side, beyond] of [["upper", above] as const, ["lower", below] as const]) {
          const window = Array.from({ length: rule.m }, (_, k) => last - rule.m + 1 + k).filter((index) => index >= 0);
          const hits = window.filter((index) => beyond(index, rule.sigmas));
          if (beyond(last, rule.sigmas) && hits.length >= rule.k) add(side, hits);
        }
      } else {
        const window = recent(rule.length);
        if (window === null) continue;
        if (rule.test === "same-side") {
          if (window.every((index) => above(index, 0))) add("upper", window);
          if (window.every((index) => below(index, 0))) add("lower", window);
        } else if (rule.test === "monotone") {
          if (window.slice(1).every((index) => step(index) > 0)) add("upper", window);
          if (window.slice(1).every((index) => step(index) < 0)) add("lower", window);
        } else if (rule.test === "alternating") {
          if (window.slice(2).every((index) => step(index) * step(index - 1) < 0)) add(null, window);
        } else {
          const outside = (index: number) => above(index, rule.sigmas) || below(index, rule.sigmas);
          if (window.every((index) => outside(index) === (rule.test === "outside"))) add(null, window);
        }
      }
    }
  });
  return signals;
}

/** Values on a coarse grid and on long stretches, so that ties, points on lines and every pattern occur. */
const series = fc
  .array(
    fc.tuple(
      fc.integer({ min: -14, max: 14 }).map((k) => k / 4),
      fc.integer({ min: 1, max: 9 }),
    ),
    { minLength: 0, maxLength: 40 },
  )
  .map((blocks) => blocks.flatMap(([value, count]) => Array.from({ length: count }, (_, k) => value + (k % 3) / 4)));
const shortLengths = fc.integer({ min: 2, max: 6 });
const sigmas = fc.constantFrom(0, 0.5, 1, 1.5, 2, 3);
const anyRule: fc.Arbitrary<RunRule> = fc.oneof(
  fc.record({ id: fc.uuid(), test: fc.constant("beyond-limit" as const) }),
  fc.record({ id: fc.uuid(), test: fc.constant("beyond-limit" as const), sigmas }),
  fc.record({ id: fc.uuid(), test: fc.constant("same-side" as const), length: shortLengths }),
  fc.record({ id: fc.uuid(), test: fc.constant("monotone" as const), length: shortLengths }),
  fc.record({ id: fc.uuid(), test: fc.constant("alternating" as const), length: shortLengths.map((k) => k + 1) }),
  fc.record({
    id: fc.uuid(),
    test: fc.constantFrom("within" as const, "outside" as const),
    length: shortLengths,
    sigmas,
  }),
  fc
    .record({ id: fc.uuid(), test: fc.constant("k-of-m" as const), m: shortLengths, k: fc.nat(), sigmas })
    .map((rule) => ({ ...rule, k: 1 + (rule.k % rule.m) })),
);
const ruleSet = fc.oneof(
  fc.constant(ZONE_TESTS),
  fc.constant(EIGHT_TESTS),
  fc.constant([...ZONE_TESTS, ...EIGHT_TESTS]),
  fc.uniqueArray(anyRule, { selector: (rule) => rule.id, maxLength: 12 }),
);

describe("scanRunRules", () => {
  it("signals one point beyond three sigma, and not a point on the limit", () => {
    expect(signalled([3, -3, 3.01, 0, -3.01], ZONE_TESTS.slice(0, 1))).toEqual(["zone-1@2", "zone-1@4"]);
  });

  it("signals two of three beyond two sigma only on one side and only at a point that is beyond", () => {
    expect(signalled([2.1, 0.1, 2.2], ZONE_TESTS)).toEqual(["zone-2@2"]);
    expect(signalled([2.1, 0.1, -2.2], ZONE_TESTS)).toEqual([]);
    expect(signalled([2.1, 2.2, -0.1], ZONE_TESTS)).toEqual(["zone-2@1"]);
  });

  it("signals four of five beyond one sigma and names the four points", () => {
    const signals = scanRunRules([1.1, 1.2, -0.5, 1.3, 1.4], unit, ZONE_TESTS);
    expect(signals).toEqual([{ index: 4, rule: "zone-3", side: "upper", points: [0, 1, 3, 4] }]);
  });

  it("signals eight (zone tests) and nine (eight tests) in a row on one side; a point on the centre ends the run", () => {
    const run = [0.5, 0.4, 0.5, 0.4, 0.5, 0.4, 0.5, 0.4, 0.5];
    expect(signalled([...run], ZONE_TESTS)).toEqual(["zone-4@7", "zone-4@8"]);
    expect(signalled([...run], EIGHT_TESTS)).toEqual(["test-2@8"]);
    expect(signalled([0.5, 0.4, 0.5, 0.4, 0, 0.4, 0.5, 0.4, 0.5], ZONE_TESTS)).toEqual([]);
  });

  it("signals six rising points with all six named, and a tie ends the run", () => {
    const rising = [-0.5, -0.3, -0.1, 0.1, 0.3, 0.5];
    const signals = scanRunRules(rising, unit, EIGHT_TESTS);
    expect(signals).toEqual([{ index: 5, rule: "test-3", side: "upper", points: [0, 1, 2, 3, 4, 5] }]);
    expect(signalled([-0.5, -0.3, -0.1, -0.1, 0.3, 0.5], EIGHT_TESTS)).toEqual([]);
  });

  it("signals fourteen alternating points", () => {
    const alternating = Array.from({ length: 14 }, (_, k) => (k % 2 === 0 ? 0.6 : -0.6) + (k === 5 ? 0.7 : 0));
    expect(signalled(alternating, EIGHT_TESTS)).toEqual(["test-4@13"]);
    expect(signalled(alternating.slice(1), EIGHT_TESTS)).toEqual([]);
  });

  it("signals fifteen points within one sigma, and eight outside on both sides", () => {
    const within = [0.1, 0.2, 0.1, -0.2, -0.3, 0.4, 0.5, -0.5, -0.4, -0.2, 0.2, 0.3, -0.1, -0.2, 1];
    expect(signalled(within, EIGHT_TESTS)).toEqual(["test-7@14"]);
    const outside = [1.1, -1.2, -1.3, 1.2, 1.1, -1.4, -1.2, 1.3];
    expect(signalled(outside, EIGHT_TESTS)).toEqual(["test-8@7"]);
  });

  it("tests each point against its own lines and limits", () => {
    const lines = { centre: [0, 10, 0], sigma: [1, 2, 1], lower: [null, 5, -1], upper: [3, 20, null] };
    expect(signalled([-50, 4.9, 60], [{ id: "limit", test: "beyond-limit" }], lines)).toEqual(["limit@1"]);
  });

  it("agrees with the definitions applied window by window", () => {
    fc.assert(
      fc.property(series, ruleSet, (values, rules) => {
        expect(scanRunRules(values, unit, rules)).toEqual(slowSignals(values, rules));
      }),
      { seed: 41, numRuns: 300 },
    );
  });

  it("agrees with the definitions where every point has its own lines", () => {
    fc.assert(
      fc.property(series, (values) => {
        const lines = {
          centre: values.map((_, k) => (k % 4) / 4),
          sigma: values.map((_, k) => 1 + (k % 2) / 2),
        };
        expect(scanRunRules(values, lines, EIGHT_TESTS)).toEqual(slowSignals(values, EIGHT_TESTS, lines));
      }),
      { seed: 41, numRuns: 100 },
    );
  });

  it("finds the same in a long series by its table of zones as by comparing, on lines and off", () => {
    const generator = createSeededGenerator(41);
    const values = Array.from({ length: 20_000 }, (_, k) =>
      k % 5 === 0 ? 37.5 + Math.round(generator.normal() * 2) / 200 : 37.5 + generator.normal() / 100,
    );
    const lines = { centre: 37.5, sigma: 0.01, upper: 37.528, lower: null };
    const rules = [...EIGHT_TESTS, ...ZONE_TESTS];
    const perPoint = {
      centre: values.map(() => lines.centre),
      sigma: lines.sigma,
      upper: lines.upper,
      lower: null,
    };
    const signals = scanRunRules(Float64Array.from(values), lines, rules);
    expect(signals).toEqual(scanRunRules(values, perPoint, rules));
    expect(new Set(signals.map(({ rule }) => rule)).size).toBeGreaterThan(9);
    const zones = scanRunRules(values, { centre: 37.5, sigma: 0.01 }, EIGHT_TESTS);
    expect(zones).toEqual(slowSignals(values, EIGHT_TESTS, { centre: 37.5, sigma: 0.01 }));
  });

  it("mirrors when the series is mirrored, and stays when it is shifted and scaled by powers of two", () => {
    const swap = { upper: "lower", lower: "upper" } as const;
    fc.assert(
      fc.property(series, (values) => {
        const signals = scanRunRules(values, unit, EIGHT_TESTS);
        const key = (signal: ChartSignal) => `${signal.index} ${signal.rule} ${signal.side}`;
        const mirrored = scanRunRules(
          values.map((value) => 0 - value),
          unit,
          EIGHT_TESTS,
        ).map((signal) => ({ ...signal, side: signal.side && swap[signal.side] }));
        expect(mirrored.map(key).sort()).toEqual(signals.map(key).sort());
        const moved = values.map((value) => 1024 + value * 8);
        expect(scanRunRules(moved, { centre: 1024, sigma: 8 }, EIGHT_TESTS)).toEqual(signals);
      }),
      { seed: 41, numRuns: 100 },
    );
  });

  it.each([
    ["a value that is not finite", [0, Number.NaN], unit, "not-finite"],
    ["sigma of zero", [0, 1], { centre: 0, sigma: 0 }, "out-of-range"],
    ["limits reversed", [0, 1], { centre: 0, sigma: 1, lower: 2, upper: 1 }, "out-of-range"],
    ["a missing sigma", [0, 1], { centre: 0, sigma: null, lower: null, upper: 1 }, "invalid-argument"],
    ["lines of another length", [0, 1], { centre: [0], sigma: 1 }, "length-mismatch"],
  ])("refuses %s", (_, values, lines, code) => {
    expect(() => scanRunRules(values, lines, ZONE_TESTS)).toThrow(expect.objectContaining({ code }));
  });

  it("refuses rules outside their range and two rules of one id", () => {
    const refused = (rules: RunRule[], code: string) =>
      expect(() => scanRunRules([0], unit, rules)).toThrow(expect.objectContaining({ code }));
    refused([{ id: "a", test: "same-side", length: 0 }], "out-of-range");
    refused([{ id: "a", test: "monotone", length: 40 }], "out-of-range");
    refused([{ id: "a", test: "k-of-m", k: 4, m: 3, sigmas: 1 }], "out-of-range");
    refused([{ id: "a", test: "within", length: 3, sigmas: Number.NaN }], "out-of-range");
    refused([ZONE_TESTS[0]!, ZONE_TESTS[0]!], "duplicate");
  });
});

describe("scanIndividuals", () => {
  it("gives moving ranges and their mean beside the signals", () => {
    const { movingRanges, meanMovingRange, signals } = scanIndividuals([1, 4, 2], unit, ZONE_TESTS);
    expect([...movingRanges]).toEqual([3, 2]);
    expect(meanMovingRange).toBe(2.5);
    expect(signals.map(({ rule }) => rule)).toEqual(["zone-1"]);
    expect(scanIndividuals([1], unit, ZONE_TESTS).movingRanges).toHaveLength(0);
  });

  it("refuses no value and a value that is not finite, in a long series too", () => {
    expect(() => scanIndividuals([], unit, ZONE_TESTS)).toThrow(expect.objectContaining({ code: "too-few-values" }));
    for (const place of [0, 1, 2500, 4999]) {
      for (const bad of [Number.NaN, Infinity, -Infinity]) {
        const values = new Float64Array(5000);
        values[place] = bad;
        expect(() => scanIndividuals(values, unit, ZONE_TESTS)).toThrow(
          expect.objectContaining({ code: "not-finite", data: { index: place } }),
        );
      }
    }
  });
});

describe("windowNeeded", () => {
  it("is the longest pattern of the set", () => {
    expect(windowNeeded(ZONE_TESTS)).toBe(8);
    expect(windowNeeded(EIGHT_TESTS)).toBe(15);
    expect(windowNeeded([])).toBe(1);
  });
});
