import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { compileMeasurement } from "@/lib/core/metrology/measure-frame";
import { fullPlan, plugsAndBarPlan, routinePlan } from "@/lib/core/metrology/measuring-plan";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { Agreement, type Disagreement, type MeasuredFeature } from "@/lib/quality/agreement";
import { type Bounded, BoundsComparison } from "@/lib/quality/bounds-conflict";
import { PRESS_FIT_41 } from "@/lib/quality/demonstration-drawings";
import { FrameJudging, judgeOperations, type OperationEvidence } from "@/lib/quality/judge-operations";
import type { AskedEvidence } from "@/lib/quality/judge-together";
import { measureTrueShell, TROUBLES } from "../bench/honesty/measuring-room";
import { DEFECTS, drawTrueShell } from "../bench/honesty/true-shell";
import { cpuTime } from "../helpers/machine-time";

// What is found as inspections come is what looking at every pair finds: the pairwise definitions stand here.

/** Every pair: |difference| > sqrt(U1^2 + U2^2), the largest excess, of equal ones the outermost values. */
function disagreementByPairs<Of>(features: readonly MeasuredFeature<Of>[]): Disagreement<Of> | null {
  const outwards = (side: 1 | -1) =>
    [...features].sort((a, b) => side * (b.value - a.value) || a.uncertainty - b.uncertainty);
  let worst: Disagreement<Of> | null = null;
  let excess = 0;
  for (const lower of outwards(-1))
    for (const higher of outwards(1)) {
      if (lower.of === higher.of || !lower.low || !higher.high) continue;
      const beyond = higher.value - lower.value - Math.hypot(lower.uncertainty, higher.uncertainty);
      // 1e-9 of the values counts as none, as in every comparison with a limit.
      if (beyond <= Math.max(excess, 1e-9 * Math.max(Math.abs(lower.value), Math.abs(higher.value)))) continue;
      worst = { lower, higher };
      excess = beyond;
    }
  return worst;
}

const feature = fc.record({
  // Coarse steps, so that many are alike.
  value: fc.integer({ min: -6, max: 6 }).map((step) => step / 2),
  uncertainty: fc.integer({ min: 1, max: 4 }),
  low: fc.boolean(),
  high: fc.boolean(),
});

describe("whether inspections agree, as they come", () => {
  it("finds after each the pair that looking at every pair finds", () => {
    fc.assert(
      fc.property(fc.array(feature, { maxLength: 30 }), (list) => {
        const agreement = new Agreement<number>();
        const features = list.map((one, of) => ({ ...one, of }));
        for (const [place, one] of features.entries()) {
          agreement.add(one);
          expect(agreement.disagreement()).toEqual(disagreementByPairs(features.slice(0, place + 1)));
        }
      }),
      { seed: 7, numRuns: 400 },
    );
  });
});

/** A size between bounds, by plugs; or a size that was read. */
const result = fc.record({
  least: fc.option(fc.integer({ min: 0, max: 12 })),
  most: fc.option(fc.integer({ min: 0, max: 12 })),
  read: fc.option(fc.integer({ min: 0, max: 12 })),
  isMeasured: fc.boolean(),
  uncertainty: fc.integer({ min: 0, max: 3 }),
});
type Result = typeof result extends fc.Arbitrary<infer T> ? T : never;

/** Width, so that one interval says all; what a comparison looks at, and nothing else. */
function boundedOf({ least, most, read, isMeasured, uncertainty }: Result): Bounded {
  const judged = {
    name: "width",
    seat: null,
    value: read,
    uncertainty,
    verdict: isMeasured ? "not proven" : "not measured",
    ...(read === null ? { bounds: { least, most } } : {}),
  };
  return { measurement: { features: { "ds.tilt": { value: null }, "nds.tilt": { value: null } } }, judged } as Bounded;
}

describe("what was felt against what was read, as it comes", () => {
  it("finds after each the first pair that looking at every pair finds", () => {
    fc.assert(
      fc.property(fc.array(result, { maxLength: 16 }), (list) => {
        const comparison = new BoundsComparison<Bounded>();
        const all = list.map((one) => ({ one, bounded: boundedOf(one) }));
        for (const [place, { bounded }] of all.entries()) {
          comparison.add(bounded);
          const known = all.slice(0, place + 1).filter(({ one }) => one.isMeasured);
          const pairs = known.flatMap((a) => known.map((b) => [a, b] as const));
          const first = pairs.find(([a, b]) => {
            if (a === b || (a.one.read !== null && b.one.read !== null)) return false;
            const atLeast = a.one.read ?? a.one.least ?? -Infinity;
            const atMost = b.one.read ?? b.one.most ?? Infinity;
            return atLeast - atMost > a.one.uncertainty + b.one.uncertainty;
          });
          const found = comparison.conflict();
          expect(found === null ? undefined : [found.least, found.most]).toEqual(first?.map((one) => one.bounded));
        }
      }),
      { seed: 8, numRuns: 400 },
    );
  });
});

const PLANS = [fullPlan, routinePlan, plugsAndBarPlan].map((plan) =>
  compileMeasurement(plan(PRESS_FIT_41), PRESS_FIT_41),
);
const BOTH = compileMeasurement([...fullPlan(PRESS_FIT_41), ...plugsAndBarPlan(PRESS_FIT_41)], PRESS_FIT_41);
const [ASKED = BOTH] = PLANS;
const asked: AskedEvidence = { plan: "plan P1 revision 1", drawing: PRESS_FIT_41, compiled: ASKED };

/** Inspections of one shell with every trouble, some of another shell, with several plugs, bars and comparators. */
function randomFrame(seed: number, count: number, calm = false): OperationEvidence[] {
  const random = createSeededGenerator(seed);
  function among<T>(list: readonly T[], usual: T): T {
    return calm ? usual : (list[Math.floor(list.length * random.uniform())] ?? usual);
  }
  const shell = drawTrueShell(calm ? "size" : among(DEFECTS, "size"), PRESS_FIT_41, random);
  return Array.from({ length: count }, (_, index): OperationEvidence => {
    const compiled = among([...PLANS, BOTH, BOTH], ASKED);
    const isOther = !calm && random.uniform() < 0.15;
    const own = isOther ? drawTrueShell(among(DEFECTS, "size"), PRESS_FIT_41, random) : shell;
    const measured = measureTrueShell(own, PRESS_FIT_41, compiled, { random, trouble: among(TROUBLES, "none") });
    const [felt, read] = [among(["P1", "P2"], "P1"), among(["C1", "C2"], "C1")];
    return {
      ...measured,
      key: `i${index}`,
      label: `inspection ${index + 1}`,
      operationId: among(["machined", "machined", "painted"], "machined"),
      planCounts: compiled === ASKED,
      gauges: compiled.names.map(({ kind }) => (kind === "plug" || kind === "bar" ? felt : read)),
    };
  });
}

describe("a frame that is measured again and again", () => {
  it("is judged after each inspection as all of them are judged at once", () => {
    const codes = new Set<string>();
    for (let seed = 1; seed <= 30; seed++) {
      const frame = randomFrame(seed, 8);
      const judging = new FrameJudging<OperationEvidence>(asked);
      for (const [place, one] of frame.entries()) {
        judging.add(one);
        // Copies, so that nothing is known of them.
        const copies = frame.slice(0, place + 1).map((each) => ({ ...each }));
        const evidence = judging.judged();
        expect(evidence).toEqual(judgeOperations(copies, asked));
        for (const { code } of evidence?.reasons ?? []) codes.add(code ?? "");
      }
    }
    // What is hard to come by was there.
    for (const code of ["disagreement", "felt-contradicts", "lacking"]) expect(codes).toContain(code);
  });

  it.each(["in order", "with every trouble"])(
    "costs the same for another inspection, however many came before: %s",
    (kind) => {
      const frame = randomFrame(5, 1600, kind === "in order");
      // Judged each by itself before: what is timed is to put them together.
      for (const one of frame) judgeOperations([one], asked);
      const judging = new FrameJudging<OperationEvidence>(asked);
      const parts = [0, 1, 2, 3].map((part) =>
        cpuTime(() => {
          for (const one of frame.slice(400 * part, 400 * (part + 1))) {
            judging.add(one);
            judging.judged();
          }
        }),
      );
      const [first = NaN, , , last = NaN] = parts;
      // Each with all before it: the last quarter takes seven times as long as the first.
      expect(last / first).toBeLessThan(4);
    },
  );
});
