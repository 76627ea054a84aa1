import { describe, expect, it } from "vitest";
import { CoreError } from "@/lib/core/errors";
import {
  sizeFromDeviation,
  suspectParts,
  suspectSpanAt,
  suspectSpans,
  zeroLimitUm,
  zeroErrorUm,
} from "@/lib/core/metrology/comparator";
import { growthUmPerKelvin, sizeAtReference } from "@/lib/core/metrology/reference-temperature";
import { expectDigits } from "@/tests/helpers/expect-digits";

const ring = 41.001;
const check = (atMs: number, errorUm: number) => ({ atMs, certifiedMm: ring, readingMm: ring + errorUm / 1000 });

describe("comparator", () => {
  it("reads a size as the ring plus the deviation", () => {
    // 41.001 - 0.0235 by hand.
    expectDigits(sizeFromDeviation(ring, -23.5), 40.9775, 12);
    expect(() => sizeFromDeviation(ring, NaN)).toThrow(CoreError);
  });

  it("states the zero error with its sign", () => {
    // 41.005 - 41.001 = 4 µm by hand; the subtraction of 41 costs four digits.
    expectDigits(zeroErrorUm({ atMs: 0, certifiedMm: 41.001, readingMm: 41.005 }), 4, 10);
  });

  it("calls nothing suspect while all checks are within 3 µm, the limit itself included", () => {
    expect(suspectSpans([check(0, 0), check(10, 3), check(20, -3)])).toEqual([]);
    expect(suspectSpans([])).toEqual([]);
  });

  it("suspects everything from the last good check to the next good one, whatever the order of entry", () => {
    const spans = suspectSpans([check(30, 5), check(10, 1), check(50, 0), check(40, -7), check(20, 2)]);
    expect(spans).toHaveLength(1);
    expect(spans[0]).toMatchObject({ afterMs: 20, untilMs: 50 });
    expectDigits(spans[0]?.zeroErrorUm ?? NaN, -7, 9);
    expect(suspectSpanAt(spans, 20)).toBeNull();
    expect(suspectSpanAt(spans, 21)).toBe(spans[0]);
    expect(suspectSpanAt(spans, 49)).toBe(spans[0]);
    expect(suspectSpanAt(spans, 50)).toBeNull();
  });

  it("leaves the span open at either end where there was no good check", () => {
    const spans = suspectSpans([check(10, 9)]);
    expect(spans[0]).toMatchObject({ afterMs: null, untilMs: null });
    expect(suspectSpanAt(spans, -1e12)).toBe(spans[0]);
  });

  it("tells which part of a stretch of readings lies in them; the moments of good checks are out", () => {
    // By hand, from A12: not proven from the last good check (0) to the next good one (30), and after a third (50).
    const spans = suspectSpans([check(0, 0), check(20, 5), check(30, 0), check(50, 0), check(60, 9)]);
    expect(suspectParts(spans, 25, 35)).toEqual([{ fromMs: 25, toMs: 30 }]);
    expect(suspectParts(spans, -5, 70)).toEqual([
      { fromMs: 0, toMs: 30 },
      { fromMs: 50, toMs: 70 },
    ]);
    expect(suspectParts(spans, 30, 50)).toEqual([]);
    expect(suspectParts(spans, 10, 10)).toEqual([{ fromMs: 10, toMs: 10 }]);
  });

  it("takes another limit, and refuses a negative one", () => {
    expect(suspectSpans([check(0, 4)], 5)).toEqual([]);
    expect(() => suspectSpans([], -1)).toThrow(CoreError);
    expect(() => suspectSpans([check(NaN, 0)])).toThrow(CoreError);
  });
});

describe("reference temperature", () => {
  it("gives the published growth per kelvin of aluminium", () => {
    // By hand, 23.6e-6 per kelvin: 41 mm 0.968, 42 mm 0.991, 46 mm 1.086 µm per kelvin, printed to 0.001.
    const published: [number, number][] = [
      [41, 0.968],
      [42, 0.991],
      [46, 1.086],
    ];
    for (const [size, growth] of published) expect(Math.abs(growthUmPerKelvin(size, 23.6) - growth)).toBeLessThan(6e-4);
  });

  it("corrects a warm aluminium shell on a steel ring by the difference of the two", () => {
    // 42 mm x (23.6 - 12) 1e-6 x 3 K = 1.4616 µm, by hand.
    expectDigits((42 - sizeAtReference(42, 23, 23.6, 12)) * 1000, 1.4616, 9);
    expect(sizeAtReference(42, 20, 23.6, 12)).toBe(42);
    expect(() => sizeAtReference(42, NaN, 23.6, 12)).toThrow(CoreError);
  });
});

describe("zeroLimitUm", () => {
  it("follows from ring, display and repeatability", () => {
    // By hand, GUM: 2 x sqrt(0.375^2 + (1 / sqrt 12)^2 + 0.8^2) = 2 x sqrt(0.1406 + 0.0833 + 0.64) = 1.86.
    expect(zeroLimitUm({ ringUncertaintyUm: 0.75, resolutionUm: 1, repeatabilityUm: 0.8 })).toBe(1.86);
    // 2 x sqrt(1^2 + (5 / sqrt 12)^2 + 2^2) = 2 x sqrt(1 + 2.0833 + 4) = 5.32.
    expect(zeroLimitUm({ ringUncertaintyUm: 2, resolutionUm: 5, repeatabilityUm: 2 })).toBe(5.32);
  });

  it("never falls below one step of the display: the least that it can show", () => {
    expect(zeroLimitUm({ ringUncertaintyUm: 0.5, resolutionUm: 10, repeatabilityUm: 0 })).toBe(10);
  });

  it("keeps 3 µm where the repeatability is unknown, but for a coarser ring or display", () => {
    expect(zeroLimitUm({ ringUncertaintyUm: null, resolutionUm: null, repeatabilityUm: null })).toBe(3);
    expect(zeroLimitUm({ ringUncertaintyUm: 0.75, resolutionUm: 1, repeatabilityUm: null })).toBe(3);
    expect(zeroLimitUm({ ringUncertaintyUm: 0.75, resolutionUm: 10, repeatabilityUm: null })).toBe(10);
    expect(zeroLimitUm({ ringUncertaintyUm: 4, resolutionUm: 1, repeatabilityUm: null })).toBe(4.04);
    expect(() => zeroLimitUm({ ringUncertaintyUm: -1, resolutionUm: 1, repeatabilityUm: null })).toThrow(CoreError);
    expect(() => zeroLimitUm({ ringUncertaintyUm: NaN, resolutionUm: 1, repeatabilityUm: null })).toThrow(CoreError);
  });
});

describe("a calibration", () => {
  it("is a good check: before it and after it a failed check says nothing", () => {
    // By hand, from A12: good at 0, calibrated at 10, failed at 20, calibrated at 30.
    expect(suspectSpans([check(0, 0), check(20, 5)], 3, [10, 30])).toMatchObject([{ afterMs: 10, untilMs: 30 }]);
    expect(suspectSpans([check(20, 5)], 3, [40])).toMatchObject([{ afterMs: null, untilMs: 40 }]);
  });

  it("leaves each check its own limit", () => {
    expect(suspectSpans([{ ...check(0, 4), limitUm: 5 }])).toEqual([]);
    expect(suspectSpans([{ ...check(0, 2), limitUm: 1 }])).toHaveLength(1);
  });
});
