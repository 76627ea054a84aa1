import { describe, expect, it } from "vitest";
import { calibrationInForce, isCalibrated, type CalibrationSpan } from "@/lib/core/metrology/calibration-in-force";

// Days counted by hand from the rule: the newest calibration at or before a moment decides.
const DAY_MS = 86_400_000;
const span = (at: number, due: number): CalibrationSpan => ({ atMs: at * DAY_MS, dueMs: due * DAY_MS });

describe("the calibration in force", () => {
  it.each([
    ["before the first one", [span(10, 100)], 9, null],
    ["at its very moment", [span(10, 100)], 10, 100],
    ["long after it was due", [span(10, 100)], 500, 100],
    ["after a newer one with a shorter interval", [span(50, 60), span(10, 100)], 70, 60],
    ["before that newer one was done", [span(50, 60), span(10, 100)], 49, 100],
    ["of two of one day, the one entered last", [span(10, 30), span(10, 100)], 20, 30],
    ["with none at all", [], 20, null],
  ])("%s", (_, calibrations, day, due) => {
    expect(calibrationInForce(calibrations, day * DAY_MS)?.dueMs ?? null).toBe(due === null ? null : due * DAY_MS);
  });
});

describe("a gauge", () => {
  it("is in calibration up to the moment at which it is due, and not a millisecond longer", () => {
    const calibrations = [span(10, 100)];
    expect(isCalibrated(calibrations, 100 * DAY_MS)).toBe(true);
    expect(isCalibrated(calibrations, 100 * DAY_MS + 1)).toBe(false);
    expect(isCalibrated(calibrations, 10 * DAY_MS - 1)).toBe(false);
  });

  it("was not in calibration between the day it was due and the next calibration, whatever came after", () => {
    const calibrations = [span(130, 500), span(10, 100)];
    expect([100, 115, 130].map((day) => isCalibrated(calibrations, day * DAY_MS))).toEqual([true, false, true]);
  });
});
