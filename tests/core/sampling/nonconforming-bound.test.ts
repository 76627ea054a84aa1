import { describe, expect, it } from "vitest";
import { nonconformingBound } from "@/lib/core/sampling/nonconforming-bound";

/** Binomial coefficient, exact. */
function choose(n: number, k: number): bigint {
  if (k < 0 || k > n) return 0n;
  let result = 1n;
  for (let i = 1; i <= k; i += 1) result = (result * BigInt(n - k + i)) / BigInt(i);
  return result;
}

/** Independent method: counts samples in whole numbers and tries every number of nonconforming items. */
function bound(lot: number, measured: number, found: number, percent: number): number {
  let most = found;
  for (let marked = found; marked <= lot - measured + found; marked += 1) {
    let favourable = 0n;
    for (let k = 0; k <= found; k += 1) favourable += choose(marked, k) * choose(lot - marked, measured - k);
    if (favourable * 100n > choose(lot, measured) * BigInt(100 - percent)) most = marked;
  }
  return most;
}

describe("nonconformingBound", () => {
  it.each([
    [20, 5, 3],
    [20, 5, 0],
    [50, 13, 0],
    [50, 13, 1],
    [200, 32, 2],
    [12, 12, 4],
    [12, 0, 0],
  ])("of a lot of %i with %i measured and %i found is what counting gives", (lot, measured, found) => {
    expect(nonconformingBound({ lot, measured, found })).toBe(bound(lot, measured, found, 95));
    expect(nonconformingBound({ lot, measured, found }, 0.9)).toBe(bound(lot, measured, found, 90));
  });

  it("refuses what cannot be", () => {
    for (const lot of [
      { lot: 5, measured: 6, found: 0 },
      { lot: 5, measured: 2, found: 3 },
      { lot: 5.5, measured: 2, found: 1 },
      { lot: 5, measured: 2, found: -1 },
    ])
      expect(() => nonconformingBound(lot)).toThrow("nonconformingBound");
    expect(() => nonconformingBound({ lot: 5, measured: 2, found: 1 }, 1)).toThrow("confidence");
  });
});
