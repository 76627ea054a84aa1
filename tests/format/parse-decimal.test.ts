import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { formatFixed } from "@/lib/format/number-text";
import { parseDecimal, withDecimalSign } from "@/lib/format/parse-decimal";

// Rules of this project's entry fields; values follow from them by reading.
describe("reading a keyed number", () => {
  it("takes a comma and a point as the decimal sign", () => {
    expect(parseDecimal("40.968")).toEqual({ ok: true, value: 40.968, decimals: 3, signed: false });
    expect(parseDecimal("40,968")).toEqual({ ok: true, value: 40.968, decimals: 3, signed: false });
    expect(parseDecimal(" 7 ")).toEqual({ ok: true, value: 7, decimals: 0, signed: false });
    expect(parseDecimal(".5")).toMatchObject({ ok: true, value: 0.5 });
  });
  it("takes a sign in front, also the typographic minus", () => {
    expect(parseDecimal("+0.003")).toMatchObject({ ok: true, value: 0.003, signed: true });
    expect(parseDecimal("-12")).toMatchObject({ ok: true, value: -12, signed: true });
    expect(parseDecimal("\u221212")).toMatchObject({ ok: true, value: -12 });
    expect(Object.is((parseDecimal("-0") as { value: number }).value, 0)).toBe(true);
  });
  it("takes the field's own unit after the number and no other", () => {
    expect(parseDecimal("40.968 mm", "mm")).toMatchObject({ ok: true, value: 40.968 });
    expect(parseDecimal("1.613 in", "mm")).toMatchObject({ ok: false, refusal: "not a number" });
    expect(parseDecimal("40.968 mm")).toMatchObject({ ok: false, refusal: "not a number" });
  });
  it("refuses thousands signs, since 1,234.5 and 1.234,5 mean the same to nobody", () => {
    expect(parseDecimal("1,234.5")).toMatchObject({ ok: false, refusal: "two signs" });
    expect(parseDecimal("1.234,5")).toMatchObject({ ok: false, refusal: "two signs" });
    expect(parseDecimal("40..9")).toMatchObject({ ok: false, refusal: "two signs" });
  });
  it("refuses what only a program would call a number", () => {
    for (const text of ["NaN", "Infinity", "1e3", "0x29", "40.9a", "--4", "4 098", "C41-04417"]) {
      expect(parseDecimal(text), text).toMatchObject({ ok: false, refusal: "not a number" });
    }
  });
  it("tells an unfinished number, an empty field and a scanned code apart", () => {
    expect(parseDecimal("40.")).toMatchObject({ ok: false, refusal: "unfinished" });
    expect(parseDecimal("-")).toMatchObject({ ok: false, refusal: "unfinished" });
    expect(parseDecimal("  ")).toMatchObject({ ok: false, refusal: "empty" });
    expect(parseDecimal("123456789012345678901")).toMatchObject({ ok: false, refusal: "too long" });
  });
  it("reads back what is shown, with either decimal sign", () => {
    fc.assert(
      fc.property(
        fc.integer({ min: -99_999_999, max: 99_999_999 }),
        fc.constantFrom("." as const, "," as const),
        (n, sign) => {
          const value = n / 1000;
          const parsed = parseDecimal(formatFixed(value, 3, sign));
          expect(parsed).toMatchObject({ ok: true, value: value === 0 ? 0 : value });
        },
      ),
      { seed: 41 },
    );
  });
});

describe("a missing decimal sign", () => {
  it("is put where the size would be near the nominal", () => {
    expect(withDecimalSign("4098", 41, 1)).toBe(40.98);
    expect(withDecimalSign("40980", 41, 1)).toBe(40.98);
    expect(withDecimalSign("419", 41, 1)).toBe(41.9);
    expect(withDecimalSign("8652", 86.5, 1)).toBe(86.52);
  });
  it("is not guessed where the number is plausible, has a sign or fits nowhere", () => {
    expect(withDecimalSign("41", 41, 1)).toBeNull();
    expect(withDecimalSign("40.98", 41, 1)).toBeNull();
    expect(withDecimalSign("7730", 41, 1)).toBeNull();
    expect(withDecimalSign("", 41, 1)).toBeNull();
  });
});
