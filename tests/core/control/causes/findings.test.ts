import { describe, expect, it } from "vitest";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { gatherFindings, type FactoredFrame, type FactoredSignal } from "@/lib/core/control/causes/findings";

/** 100 frames: reamer R1 to frame 49 and R2 after it, inspectors and fixtures in turn, gauge G9 on frames 60 to 69. */
const frames: FactoredFrame[] = Array.from({ length: 100 }, (_, position) => ({
  position,
  factors: {
    reamer: position < 50 ? "R1" : "R2",
    inspector: position % 2 === 0 ? "A" : "B",
    fixture: `F${position % 3}`,
    gauge: position >= 60 && position < 70 ? "G9" : "G1",
  },
}));
const signal = (stream: string, position: number, from = position): FactoredSignal => ({
  stream,
  position,
  from,
  side: "lower",
});

describe("gatherFindings", () => {
  it("makes one finding of signals of several streams at one time, and names the gauge they share", () => {
    const findings = gatherFindings([signal("nds bore", 63), signal("ds bore", 61, 60), signal("width", 68)], frames);
    expect(findings).toHaveLength(1);
    expect(findings[0]).toMatchObject({ from: 60, to: 68, streams: ["ds bore", "nds bore", "width"] });
    expect(findings[0]?.cause).toMatchObject({ factor: "gauge", value: "G9", lift: 10 });
  });

  it("keeps apart what lies far apart in time", () => {
    const findings = gatherFindings([signal("ds bore", 5), signal("nds bore", 90), signal("ds bore", 88)], frames);
    expect(findings.map((finding) => finding.signals.length)).toEqual([1, 2]);
  });

  it("names no cause where the signalling frames share nothing that others lack", () => {
    const even = frames.map((frame) => ({
      ...frame,
      factors: { line: "L1", reamer: frame.position < 95 ? "R1" : "R2" },
    }));
    expect(gatherFindings([signal("ds bore", 40), signal("ds bore", 41)], even)[0]?.cause).toBeNull();
  });

  it("does not depend on the order of signals", () => {
    const list = [signal("a", 10), signal("b", 12), signal("a", 60), signal("c", 55)];
    const streams = (order: FactoredSignal[]) => gatherFindings(order, frames).map(({ from, to }) => [from, to]);
    expect(streams([...list].reverse())).toEqual(streams(list));
  });

  it("names the reamer that came into use where the change began, and gives the change point they share", () => {
    const with1 = { ...signal("ds bore", 56, 50), change: { first: 51, earliest: 47, latest: 55 } };
    const with2 = { ...signal("nds bore", 58, 52), change: { first: 49, earliest: 44, latest: 52 } };
    const [finding, ...others] = gatherFindings([with2, with1], frames);
    expect(others).toEqual([]);
    // what both sets hold: 47 to 52
    expect(finding?.change).toEqual({ first: 51, earliest: 47, latest: 52 });
    expect(finding?.cause).toMatchObject({ factor: "reamer", value: "R2", evidence: "began", lift: 2 });
    const elsewhere = { ...with1, change: { first: 40, earliest: 38, latest: 42 } };
    expect(gatherFindings([elsewhere], frames)[0]?.cause).toBeNull();
  });

  it("takes apart what happened at one time to different moulds", () => {
    const moulds = frames.map(({ position }) => ({
      position,
      factors: { mould: `M${position % 10}`, gauge: position % 7 === 0 ? "G2" : "G1" },
    }));
    // five frames of mould 3 in one stream, six frames of gauge G2 in two others, all between 13 and 53
    const list = [13, 23, 33, 43, 53].map((at) => signal("ds ovality", at));
    list.push(...[14, 21, 28, 35, 42, 49].map((at) => signal(at % 2 === 0 ? "ds bore" : "nds bore", at)));
    const findings = gatherFindings(list, moulds);
    expect(findings.map(({ cause, streams }) => [cause?.value, streams])).toEqual([
      ["M3", ["ds ovality"]],
      ["G2", ["ds bore", "nds bore"]],
    ]);
  });

  it("does not name a cause for one frame that anybody could have measured", () => {
    expect(gatherFindings([signal("width", 30)], frames)[0]?.cause).toBeNull();
  });

  it("says which levels the data do not tell apart", () => {
    const both = frames.map((frame) => ({
      position: frame.position,
      factors: { gauge: frame.factors.gauge!, inspector: frame.factors.gauge === "G9" ? "C" : "A" },
    }));
    const [finding] = gatherFindings([signal("a", 61), signal("b", 64), signal("a", 66)], both);
    expect([finding?.cause?.value, ...finding!.cause!.or.map(({ value }) => value)]).toEqual(["G9", "C"]);
  });

  it("names a cause by chance in at most the stated share of cases", () => {
    const { uniform } = createSeededGenerator(41);
    const tries = 2000;
    let named = 0;
    for (let index = 0; index < tries; index++) {
      const random = frames.map(({ position }) => ({
        position,
        factors: {
          a: `${Math.floor(4 * uniform())}`,
          b: `${Math.floor(8 * uniform())}`,
          c: uniform() < 0.1 ? "x" : "y",
        },
      }));
      const at = [40, 44, 47, 51, 53].map((position) => signal("s", position + Math.floor(2 * uniform())));
      if (gatherFindings(at, random)[0]!.cause !== null) named++;
    }
    // at most 0.05 by Bonferroni, and three standard errors
    expect(named / tries).toBeLessThan(0.05 + 0.015);
    expect(named).toBeGreaterThan(0);
  });

  it("finds nothing in nothing, and refuses wrong options", () => {
    expect(gatherFindings([], frames)).toEqual([]);
    expect(gatherFindings([signal("a", 3)], [])[0]?.cause).toBeNull();
    expect(() => gatherFindings([], frames, { gap: -1 })).toThrow(/gap/);
    expect(() => gatherFindings([], frames, { lift: 0.5 })).toThrow(/lift/);
    expect(() => gatherFindings([], frames, { alpha: 1 })).toThrow(/alpha/);
  });
});
