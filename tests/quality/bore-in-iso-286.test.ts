import { describe, expect, it } from "vitest";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { iso286Text } from "@/lib/format/iso-286-text";
import { boreInIso286 } from "@/lib/quality/bore-in-iso-286";
import { PRESS_FIT_41 } from "@/lib/quality/demonstration-drawings";

const withBore = (nominalBoreMm: number, lower: number | null, upper: number | null): ShellDrawing => ({
  ...PRESS_FIT_41,
  nominalBoreMm,
  characteristics: PRESS_FIT_41.characteristics.map((one) => (one.name === "bore" ? { ...one, lower, upper } : one)),
});
const textOf = (nominal: number, lower: number, upper: number): string => {
  const found = boreInIso286(withBore(nominal, lower, upper));
  return found === null ? "" : iso286Text(found);
};

// ISO 286-1:2010, table 1, over 30 to 50 mm: IT5 11, IT7 25, IT8 39, IT9 62, IT18 3900 µm. ISO 286-2:2010, tables of H7 and P7.
describe("boreInIso286", () => {
  it("names the class that has the limits", () => {
    expect(textOf(42, 41.958, 41.983)).toBe("−17 / −42 µm, P7");
    expect(textOf(41, 41, 41.025)).toBe("25 / 0 µm, H7");
    expect(textOf(41, 40.969, 41.031)).toBe("31 / −31 µm, JS9");
  });
  it("says between which grades the width lies where no class has them", () => {
    expect(textOf(41, 40.95, 41)).toBe("0 / −50 µm, between IT8 and IT9");
    expect(textOf(41, 41.003, 41.028)).toBe("28 / 3 µm, as wide as IT7");
    expect(textOf(41, 41, 41.001)).toBe("1 / 0 µm, narrower than any grade");
    expect(textOf(41, 36, 46)).toBe("5000 / −5000 µm, wider than any grade");
  });
  it("has no answer for one limit", () => {
    expect(boreInIso286(withBore(41, null, 41))).toBeNull();
  });
});
