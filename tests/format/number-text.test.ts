import fc from "fast-check";
import { describe, expect, it } from "vitest";
import {
  decimalsOfResolution,
  formatArcMinutes,
  formatCount,
  formatCounted,
  formatDeviationUm,
  formatFixed,
  formatLimits,
  formatMm,
  formatPercent,
  formatPpm,
  formatSigned,
  formatUncertainty,
  formatValue,
} from "@/lib/format/number-text";

// Expected texts are the rules of this project's number style (unit always shown, true minus U+2212, no-break space
// U+00A0 before a unit as ISO 80000-1 asks for a space there); roundings are exact decimal arithmetic by hand.
describe("numbers as text", () => {
  it("rounds half away from zero as written in decimal, not as stored in binary", () => {
    // 40.9785 is stored as 40.97849999999999681...; by hand 40.979. 1.005 is stored below 1.005; by hand 1.01.
    expect(formatFixed(40.9785, 3)).toBe("40.979");
    expect(formatFixed(1.005, 2)).toBe("1.01");
    expect(formatFixed(-2.5, 0)).toBe("\u22123");
    expect(formatFixed(0.1 + 0.2, 1)).toBe("0.3");
  });
  it("writes a true minus and never a minus before zero", () => {
    expect(formatFixed(-7, 0)).toBe("\u22127");
    expect(formatFixed(-0.0004, 3)).toBe("0.000");
    expect(formatFixed(-0, 1)).toBe("0.0");
  });
  it("writes the decimal sign that was chosen", () => {
    expect(formatFixed(40.968, 3, ",")).toBe("40,968");
    expect(formatMm(40.968, 0.001, ",")).toBe("40,968\u00a0mm");
  });
  it("says that a value is not estimable instead of NaN or infinity", () => {
    expect(formatFixed(Number.NaN, 3)).toBe("not estimable");
    expect(formatPercent(Number.POSITIVE_INFINITY)).toBe("not estimable");
  });
  it("signs deviations on both sides and leaves zero bare", () => {
    expect(formatDeviationUm(-7)).toBe("\u22127\u00a0µm");
    expect(formatDeviationUm(12.4)).toBe("+12\u00a0µm");
    expect(formatDeviationUm(0.3)).toBe("0\u00a0µm");
    expect(formatSigned(0, 1)).toBe("0.0");
  });
  it("shows as many decimals as the gauge resolves", () => {
    expect([0.001, 0.0005, 0.005, 0.01, 0.1, 1].map(decimalsOfResolution)).toEqual([3, 4, 3, 2, 1, 0]);
    expect(formatMm(40.9684, 0.01)).toBe("40.97\u00a0mm");
  });
  it("writes each characteristic in its unit", () => {
    expect(formatValue(40.968, "mm")).toBe("40.968\u00a0mm");
    expect(formatValue(22.4, "µm")).toBe("22.4\u00a0µm");
    expect(formatValue(1.62, "arcmin")).toBe("1.6\u2032");
    expect(formatArcMinutes(-2.25)).toBe("\u22122.3\u2032");
    expect(formatUncertainty(5.9, "µm")).toBe("±5.9\u00a0µm");
  });
  it("writes limits in words", () => {
    expect(formatLimits(40.95, 41, "mm")).toBe("40.950 to 41.000\u00a0mm");
    expect(formatLimits(null, 40, "µm")).toBe("at most 40.0\u00a0µm");
    expect(formatLimits(86.3, null, "mm", { digits: 1 })).toBe("at least 86.3\u00a0mm");
    expect(formatLimits(null, null, "mm")).toBe("no limit");
  });
  it("groups counts from five digits on", () => {
    expect(formatCount(6000)).toBe("6000");
    expect(formatCount(48_112)).toBe("48\u202f112");
    expect(formatCounted(1, "frame")).toBe("1\u00a0frame");
    expect(formatCounted(48, "frame")).toBe("48\u00a0frames");
  });
  it("never shows a small fraction as zero", () => {
    expect(formatPercent(0.081)).toBe("8.1\u00a0%");
    expect(formatPercent(0.0004)).toBe("0.04\u00a0%");
    expect(formatPercent(0.000001)).toBe("under 0.01\u00a0%");
    expect(formatPercent(0)).toBe("0\u00a0%");
    expect(formatPpm(0.0081)).toBe("8100\u00a0ppm");
    expect(formatPpm(1e-8)).toBe("under 1\u00a0ppm");
  });
  it("is never further from the value than half a unit of its last digit", () => {
    fc.assert(
      fc.property(fc.double({ min: -500, max: 500, noNaN: true }), fc.integer({ min: 0, max: 6 }), (value, digits) => {
        const shown = Number(formatFixed(value, digits).replace("\u2212", "-"));
        expect(Math.abs(shown - value)).toBeLessThanOrEqual(0.5 * 10 ** -digits + 1e-9);
      }),
      { seed: 41 },
    );
  });
});
