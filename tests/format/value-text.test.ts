import { describe, expect, it } from "vitest";
import { formatUncertainty, formatValue } from "@/lib/format/number-text";
import { limitsText, numberText, uncertaintyText, valueText } from "@/lib/format/value-text";

describe("numbers in the sentences of decisions", () => {
  it("have a true minus sign and their unit, and no zero has a sign", () => {
    expect(valueText(-18.66, "µm")).toBe("\u221218.7 µm");
    expect(numberText(-0.04, "µm")).toBe("0.0");
    expect(numberText(-0.0004, "mm")).toBe("0.000");
    expect(valueText(40.95, "mm")).toBe("40.950 mm");
    expect(limitsText(-12, 40, "µm")).toBe("limits \u221212.0 to 40.0 µm");
  });

  // Half away from zero as it is written (ISO 80000-1, annex B, rule B); the binary value of 40.9785 lies below it.
  it.each([
    [40.9785, "mm", "40.979"],
    [-40.9785, "mm", "\u221240.979"],
    [82.45, "µm", "82.5"],
    [2.25, "arcmin", "2.3"],
  ] as const)("are the same as on screens: %d %s is %s", (value, unit, text) => {
    expect(numberText(value, unit)).toBe(text);
    expect(valueText(value, unit).startsWith(text)).toBe(true);
    expect(formatValue(value, unit).startsWith(text)).toBe(true);
  });
  it("are so for uncertainties", () => {
    expect(uncertaintyText(0.00585, "mm")).toBe("U 0.0059 mm");
    expect(formatUncertainty(0.00585, "mm")).toBe("±0.0059\u00a0mm");
    expect(uncertaintyText(2.25, "µm")).toBe("U 2.3 µm");
  });
});
