import { describe, expect, it } from "vitest";
import { limitsText, numberText, valueText } from "@/lib/quality/value-text";

describe("numbers in the sentences of decisions", () => {
  it("have a true minus sign and their unit, and no zero has a sign", () => {
    expect(valueText(-18.66, "µm")).toBe("\u221218.7 µm");
    expect(numberText(-0.04, "µm")).toBe("0.0");
    expect(numberText(-0.0004, "mm")).toBe("0.000");
    expect(valueText(40.95, "mm")).toBe("40.950 mm");
    expect(limitsText(-12, 40, "µm")).toBe("limits \u221212.0 to 40.0 µm");
  });
});
