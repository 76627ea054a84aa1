import { describe, expect, it } from "vitest";
import { varianceComponents, type FactoredValue } from "@/lib/core/control/causes/variance-components";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { expectDigits } from "@/tests/helpers/expect-digits";
import reference from "@/tests/reference/strd-anova.json";

const componentsOf = (values: readonly FactoredValue[], factors: readonly string[]) => {
  const answer = varianceComponents(values, factors);
  if (!answer.ok) throw new Error(answer.reason);
  return new Map(answer.value.components.map((each) => [each.factor, each]));
};

const UNBALANCED: readonly FactoredValue[] = (
  [
    ["1", "x", 12],
    ["1", "x", 15],
    ["1", "y", 11],
    ["2", "x", 20],
    ["2", "y", 18],
    ["2", "z", 25],
    ["3", "z", 7],
    ["3", "z", 9],
    ["3", "x", 4],
    ["3", "y", 6],
    ["1", "z", 14],
  ] as const
).map(([a, b, value]) => ({ value, levels: { a, b } }));
/** Henderson 1953, method 1, equations solved in rational arithmetic (Python fractions) with these eleven values. */
const BY_FRACTIONS = { a: 47.25331465919701, b: -3.1990662931839404, residual: 8.924183006535948 };

describe("varianceComponents", () => {
  it("is the classical estimate where one factor is balanced", () => {
    const set = reference.cases.find(({ id }) => id === "strd-anova-SiRstv");
    const groups = set?.input.groups as unknown as Record<string, number[]>;
    const values = Object.entries(groups).flatMap(([instrument, list]) =>
      list.map((value) => ({ value, levels: { instrument } })),
    );
    const components = componentsOf(values, ["instrument"]);
    // NIST StRD SiRstv, certified mean squares 0.0127865654 and 0.0108318280: (between - within) / 5
    expectDigits(components.get("instrument")?.variance ?? 0, (0.0127865654 - 0.010831828) / 5, 8);
    expectDigits(components.get("residual")?.variance ?? 0, 0.010831828, 9);
  });

  it("finds the components of crossed unbalanced factors without bias", () => {
    const random = createSeededGenerator(41);
    const sums = { fixture: 0, inspector: 0, residual: 0 };
    const tries = 400;
    for (let index = 0; index < tries; index++) {
      const fixtures = Array.from({ length: 6 }, () => 2 * random.normal());
      const inspectors = Array.from({ length: 5 }, () => 1 * random.normal());
      const values = Array.from({ length: 120 }, (_, at) => {
        // squares make some levels much more frequent than others
        const fixture = Math.floor(6 * random.uniform() ** 2);
        const inspector = Math.floor(5 * random.uniform());
        const value = 100 + fixtures[fixture]! + inspectors[inspector]! + 1.5 * random.normal();
        return { value, levels: { fixture: `F${fixture}`, inspector: `I${inspector}`, frame: `${at}` } };
      });
      for (const [factor, { raw }] of componentsOf(values, ["fixture", "inspector"]))
        sums[factor as keyof typeof sums] += raw / tries;
    }
    // true 4, 1, 2.25; bounds of more than three standard errors of these 400 means
    expect(Math.abs(sums.fixture - 4)).toBeLessThan(0.6);
    expect(Math.abs(sums.inspector - 1)).toBeLessThan(0.25);
    expect(Math.abs(sums.residual - 2.25)).toBeLessThan(0.1);
  });

  it("puts the largest first and does not change with shift", () => {
    const random = createSeededGenerator(7);
    const values = Array.from({ length: 60 }, (_, index) => ({
      value: (index % 3) * 5 + random.normal(),
      levels: { mould: `M${index % 3}`, shift: index % 2 === 0 ? "early" : "late" },
    }));
    const answer = varianceComponents(values, ["shift", "mould"]);
    if (!answer.ok) throw new Error(answer.reason);
    expect(answer.value.components[0]?.factor).toBe("mould");
    expectDigits(
      answer.value.components.reduce((sum, each) => sum + each.share, 0),
      1,
      12,
    );
    const moved = varianceComponents(
      values.map((each) => ({ ...each, value: each.value + 4096 })),
      ["shift", "mould"],
    );
    if (!moved.ok) throw new Error(moved.reason);
    expectDigits(moved.value.components[0]?.variance ?? 0, answer.value.components[0]?.variance ?? 1, 8);
  });

  it("agrees with the equations solved in fractions for two crossed factors, unbalanced", () => {
    // Henderson's first method by rational arithmetic, see BY_FRACTIONS
    const components = componentsOf(UNBALANCED, ["a", "b"]);
    for (const [factor, value] of Object.entries(BY_FRACTIONS)) expectDigits(components.get(factor)!.raw, value, 10);
  });

  it("leaves out with a warning what has one level, and doubts what has few", () => {
    const random = createSeededGenerator(3);
    const values = Array.from({ length: 40 }, (_, index) => ({
      value: random.normal() + (index % 8),
      levels: { line: "L1", fixture: `F${index % 8}`, inspector: index % 3 === 0 ? "A" : "B", frame: `${index}` },
    }));
    const answer = varianceComponents(values, ["line", "fixture", "inspector", "frame"]);
    if (!answer.ok) throw new Error(answer.reason);
    expect(answer.value.components.map(({ factor }) => factor).sort()).toEqual(["fixture", "inspector", "residual"]);
    expect(answer.warnings.join(" ")).toMatch(
      /line has one level.*frame has a level for every.*inspector has 2 levels/,
    );
  });

  it("gives reasons in words, never a number, where shares cannot be told apart", () => {
    const same = [1, 2, 3, 4].map((value, index) => ({
      value,
      levels: { a: `${index % 2}`, b: `${index % 2}`, c: "one", d: `${index}` },
    }));
    expect(varianceComponents(same, ["a", "b"])).toMatchObject({
      ok: false,
      reason: expect.stringMatching(/together/),
    });
    expect(varianceComponents(same, ["c"])).toMatchObject({ ok: false, reason: expect.stringMatching(/one level/) });
    expect(varianceComponents(same, ["d"])).toMatchObject({ ok: false, reason: expect.stringMatching(/every value/) });
    expect(
      varianceComponents(
        same.map((each) => ({ ...each, value: 5 })),
        ["a"],
      ),
    ).toMatchObject({ ok: false });
    expect(() => varianceComponents(same, [])).toThrow(/at least 1/);
    expect(() => varianceComponents(same, ["a", "a"])).toThrow(/once/);
    expect(() => varianceComponents(same, ["missing"])).toThrow(/level of missing/);
    expect(() => varianceComponents([{ value: Number.NaN, levels: {} }, ...same], ["a"])).toThrow(/finite/);
  });
});
