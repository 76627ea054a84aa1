import { describe, expect, it } from "vitest";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { shiftSpread, type ShiftFrame } from "@/lib/quality/alarm/shift-spread";

/** Normal values by the sum of twelve uniform ones, so that the test has no function of ours in it. */
function drawer(seed: number): () => number {
  const random = createSeededGenerator(seed);
  return () => Array.from({ length: 12 }, () => random.uniform()).reduce((sum, one) => sum + one, -6);
}

function shifts(
  count: number,
  {
    seed,
    between,
    slope = 0,
    tool = () => "R-1",
  }: Readonly<{ seed: number; between: number; slope?: number; tool?: (shift: number) => string }>,
): ShiftFrame[] {
  const draw = drawer(seed);
  return Array.from({ length: count }, (_, shift) => {
    const level = between * draw();
    return Array.from({ length: 33 }, (_, at) => ({
      value: level + slope * (33 * shift + at) + draw(),
      shift: String(shift),
      tool: tool(shift),
    }));
  }).flat();
}

describe("shiftSpread", () => {
  it("is what levels of shifts differ by, by hand", () => {
    // levels 0 and 2 in turn with values of level - 1, level, level, level, level + 1: s^2 = 2/4, d^2 = 4, so (4 - 0.5 x 2/5) / 2 = 1.9
    const frames = Array.from({ length: 20 }, (_, shift) =>
      [-1, 0, 0, 0, 1].map((off) => ({ value: 2 * (shift % 2) + off, shift: String(shift), tool: null })),
    ).flat();
    const spread = shiftSpread(frames);
    expect(spread?.shifts).toBe(20);
    expect(Math.abs((spread?.sd ?? 0) - Math.sqrt(1.9))).toBeLessThan(1e-12);
  });

  it("finds the standard deviation that was drawn, in the middle of many series, wear and new tools notwithstanding", () => {
    const found = Array.from(
      { length: 60 },
      (_, seed) =>
        shiftSpread(shifts(40, { seed, between: 0.5, slope: -0.0046, tool: (shift) => `R-${Math.floor(shift / 10)}` }))
          ?.sd ?? 0,
    );
    const mean = found.reduce((sum, one) => sum + one / found.length, 0);
    // a single one is known to about a fifth of it; wear of 0.15 sd from shift to shift adds a hundredth to the square
    expect(Math.abs(mean - 0.5)).toBeLessThan(0.04);
    const none = Array.from({ length: 60 }, (_, seed) => shiftSpread(shifts(40, { seed, between: 0 }))?.sd ?? 1);
    expect(none.toSorted((a, b) => a - b)[30]).toBeLessThan(0.12);
  });

  it("learns nothing of fewer than twenty shifts, of short ones, or where each has a tool of its own", () => {
    expect(shiftSpread(shifts(19, { seed: 1, between: 1 }))).toBeNull();
    expect(shiftSpread(shifts(40, { seed: 1, between: 1, tool: String }))).toBeNull();
    expect(shiftSpread(shifts(40, { seed: 1, between: 1 }).filter((_, at) => at % 33 < 4))).toBeNull();
    expect(shiftSpread([])).toBeNull();
  });
});
