import { describe, expect, it } from "vitest";
import { gatherFindings, type FactoredFrame, type FactoredSignal } from "@/lib/core/control/findings";

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

  it("finds nothing in nothing, and refuses wrong options", () => {
    expect(gatherFindings([], frames)).toEqual([]);
    expect(gatherFindings([signal("a", 3)], [])[0]?.cause).toBeNull();
    expect(() => gatherFindings([], frames, { gap: -1 })).toThrow(/gap/);
    expect(() => gatherFindings([], frames, { lift: 0.5 })).toThrow(/lift/);
  });
});
