import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { CoreError } from "@/lib/core/errors";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { randomChoice } from "@/lib/core/sampling/random-choice";

describe("randomChoice", () => {
  it("gives distinct places in order, the same for the same seed", () => {
    fc.assert(
      fc.property(fc.nat(200), fc.nat(200), fc.nat(), (a, b, seed) => {
        const [size, n] = [Math.min(a, b), Math.max(a, b)];
        const chosen = randomChoice(n, size, createSeededGenerator(seed));
        expect(chosen).toHaveLength(size);
        expect(new Set(chosen).size).toBe(size);
        expect(chosen).toEqual([...chosen].sort((x, y) => x - y));
        expect(chosen.every((place) => Number.isInteger(place) && place >= 0 && place < n)).toBe(true);
        expect(randomChoice(n, size, createSeededGenerator(seed))).toEqual(chosen);
      }),
      { seed: 41, numRuns: 200 },
    );
  });

  // Each of the C(6, 3) = 20 choices has the chance 1/20; 43.820 is the upper 0.1 % point of chi-square with 19 degrees
  // of freedom (NIST/SEMATECH e-Handbook of Statistical Methods, table 1.3.6.7.4).
  it("gives every choice equally often", () => {
    const generator = createSeededGenerator(41);
    const counts = new Map<string, number>();
    const runs = 20_000;
    for (let run = 0; run < runs; run += 1) {
      const key = randomChoice(6, 3, generator).join();
      counts.set(key, (counts.get(key) ?? 0) + 1);
    }
    expect(counts.size).toBe(20);
    const expected = runs / 20;
    const chiSquare = [...counts.values()].reduce((sum, count) => sum + (count - expected) ** 2 / expected, 0);
    expect(chiSquare).toBeLessThan(43.82);
  });

  it("refuses what is no size of a sample", () => {
    const generator = createSeededGenerator(1);
    for (const [n, size] of [
      [3, 4],
      [3, -1],
      [3, 1.5],
      [-1, 0],
      [Number.NaN, 0],
    ] as const)
      expect(() => randomChoice(n, size, generator)).toThrow(CoreError);
  });
});
