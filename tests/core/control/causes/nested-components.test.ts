import { describe, expect, it } from "vitest";
import { nestedComponents, type NestedComponents } from "@/lib/core/control/causes/nested-components";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { expectDigits } from "@/tests/helpers/expect-digits";
import reference from "@/tests/reference/strd-anova.json";
import pastes from "@/tests/reference/nested-components.json";

function found(groups: readonly (readonly (readonly number[])[])[], confidence?: number): NestedComponents {
  const answer = nestedComponents(groups, confidence);
  if (!answer.ok) throw new Error(answer.reason);
  return answer.value;
}

describe("nestedComponents", () => {
  it("is the analysis of variance where one factor is balanced", () => {
    const set = reference.cases.find(({ id }) => id === "strd-anova-SiRstv");
    const cells = Object.values(set?.input.groups as unknown as Record<string, number[]>);
    const { between, cell, within } = found([cells]);
    // NIST StRD SiRstv, certified mean squares 0.0127865654 and 0.0108318280: (between - within) / 5
    expect(between).toBeNull();
    expectDigits(cell.variance, (0.0127865654 - 0.010831828) / 5, 8);
    expectDigits(within.variance, 0.010831828, 9);
  });

  it("gives the printed components of a nested design", () => {
    for (const { input, expected, within } of pastes.cases) {
      const parts = found(input.groups);
      const { between, cell } = parts;
      expect(Math.abs((between?.variance ?? 0) - expected.between)).toBeLessThan(within.between);
      expect(Math.abs(cell.variance - expected.cell)).toBeLessThan(within.cell);
      expect(Math.abs(parts.within.variance - expected.within)).toBeLessThan(within.within);
    }
  });

  // 95 % asked; 600 tries have a standard error of 0.9 %. Cells ten times as large as others cost some of it.
  it.each([
    [12, 36, 0.93],
    [3, 30, 0.9],
  ])("covers the truth, with cells of %i and %i values, in more than %f", (small, large, least) => {
    const random = createSeededGenerator(23);
    const tries = 600;
    const hits = { between: 0, cell: 0, within: 0 };
    const true_ = { between: 4, cell: 1, within: 9 };
    for (let index = 0; index < tries; index += 1) {
      const groups = Array.from({ length: 6 }, (_, level) => {
        const ofLevel = 2 * random.normal();
        return Array.from({ length: 2 + 2 * level }, (__, at) => {
          const ofCell = ofLevel + random.normal();
          return Array.from({ length: at % 2 === 0 ? small : large }, () => ofCell + 3 * random.normal());
        });
      });
      const parts = found(groups);
      for (const name of ["between", "cell", "within"] as const) {
        const [lower, upper] = parts[name]?.interval ?? [0, 0];
        if (lower <= true_[name] && true_[name] <= upper) hits[name] += 1;
      }
    }
    for (const name of ["between", "cell", "within"] as const) {
      expect(hits[name] / tries, name).toBeGreaterThan(least);
      expect(hits[name] / tries, name).toBeLessThan(0.99);
    }
  });

  it("does not change with shift, and by the square of the scale", () => {
    const groups = [
      [
        [1, 2, 4],
        [3, 5],
      ],
      [[9, 7], [8, 6, 7], [12]],
    ];
    const plain = found(groups);
    const moved = found(groups.map((level) => level.map((cell) => cell.map((value) => 1e6 + 3 * value))));
    expectDigits(moved.cell.raw, 9 * plain.cell.raw, 8);
    expectDigits(moved.between?.raw ?? 0, 9 * (plain.between?.raw ?? 1), 8);
  });

  it("says why where the data do not allow it", () => {
    expect(nestedComponents([[[1, 2]], [[3, 4]]])).toMatchObject({
      ok: false,
      reason: expect.stringMatching(/two cells/),
    });
    expect(nestedComponents([[[1], [2]]])).toMatchObject({ ok: false, reason: expect.stringMatching(/two values/) });
    const same = [
      [
        [5, 5],
        [5, 5],
      ],
    ];
    expect(nestedComponents(same)).toMatchObject({ ok: false, reason: expect.stringMatching(/equal/) });
    expect(() => nestedComponents([])).toThrow(/cell/);
    expect(() => nestedComponents([[[1, 2], []]])).toThrow();
  });
});
