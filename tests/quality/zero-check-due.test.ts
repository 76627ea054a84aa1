import { describe, expect, it } from "vitest";
import { type ComparatorUse, zeroCheckDue, type ZeroCheckRule } from "@/lib/quality/zero-check-due";

const HOUR_MS = 3_600_000;
const NOW = Date.parse("2026-06-12T09:00:00Z");
const FRESH: ComparatorUse = { lastMs: NOW - HOUR_MS, framesSince: 3, knocked: false, batchEnded: false };

function due(use: Partial<ComparatorUse>, rule: ZeroCheckRule = {}, shiftHoursAgo: number | null = null) {
  const shiftStartMs = shiftHoursAgo === null ? null : NOW - shiftHoursAgo * HOUR_MS;
  return zeroCheckDue({ ...FRESH, ...use }, rule, { nowMs: NOW, shiftStartMs })?.occasion ?? null;
}

// The occasions are common practice, no source; the rest is what a plan may set.
describe("a zero check is due", () => {
  it("at the start of the shift, and not again in it", () => {
    expect(due({ lastMs: NOW - 4 * HOUR_MS }, { starts: ["08:00"] }, 3)).toBe("shift start");
    expect(due({ lastMs: NOW - 2 * HOUR_MS }, { starts: ["08:00"] }, 3)).toBeNull();
    // Known starts of shifts: a long one asks for no second check by its length.
    expect(due({ lastMs: NOW - 11 * HOUR_MS }, { starts: ["22:00"] }, 11.5)).toBeNull();
  });

  it("after the length of a shift where nobody says when shifts begin", () => {
    expect(due({ lastMs: NOW - 8 * HOUR_MS })).toBe("shift start");
    expect(due({ lastMs: NOW - 7.9 * HOUR_MS })).toBeNull();
    expect(due({ lastMs: null })).toBe("shift start");
  });

  it("after a knock, before anything else", () => {
    expect(due({ knocked: true })).toBe("after a knock");
    expect(due({ knocked: true, lastMs: null, batchEnded: true })).toBe("after a knock");
  });

  it("at the end of a batch", () => {
    expect(due({ batchEnded: true })).toBe("batch end");
  });

  it("after so many hours or frames as the plan says", () => {
    expect(due({ lastMs: NOW - 2 * HOUR_MS }, { everyHours: 2 })).toBe("other");
    expect(due({ lastMs: NOW - 2 * HOUR_MS }, { everyHours: 3 })).toBeNull();
    expect(due({ lastMs: NOW - 9 * HOUR_MS }, { everyHours: 10 })).toBeNull();
    expect(due({ framesSince: 20 }, { everyFrames: 20 })).toBe("other");
    expect(due({ framesSince: 19 }, { everyFrames: 20 })).toBeNull();
  });
});
