import { describe, expect, it } from "vitest";
import { serialsOneDigitOff } from "@/lib/quality/like-serials";

// Slips of the hand and the eye; common practice, no source.
describe("serialsOneDigitOff", () => {
  it("has another digit, one too few, one too many and two exchanged", () => {
    const candidates = serialsOneDigitOff("C41-04432");
    for (const serial of ["c41-04433", "c41-0432", "c41-044328", "c41-04423", "c91-04432"])
      expect(candidates).toContain(serial);
  });

  it("has no other letters, not the serial itself, each once and nothing of a long text", () => {
    const candidates = serialsOneDigitOff("C41-04432");
    for (const serial of ["b41-04432", "c41-04432", "c4104432", "c41-04344"]) expect(candidates).not.toContain(serial);
    expect(new Set(candidates).size).toBe(candidates.length);
    expect(serialsOneDigitOff("x".repeat(41))).toEqual([]);
  });
});
