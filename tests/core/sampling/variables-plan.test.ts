import { describe, expect, it } from "vitest";
import reference from "../../reference/sampling-variables.json";
import { attributePlan } from "@/lib/core/sampling/attribute-plan";
import { INSPECTION_LEVELS } from "@/lib/core/sampling/attribute-tables";
import { acceptanceProbability, qualityAt } from "@/lib/core/sampling/operating-characteristic";
import { hasVariablesLevel, variablesPlan } from "@/lib/core/sampling/variables-plan";
import { expectDigits } from "../../helpers/expect-digits";

/** A lot of level II whose letter it is. */
const lotOf = Object.fromEntries(
  (reference.codeLetters.rows as [number, number | null, string][]).map(([least, , letters]) => [letters[3], least]),
);
const plan = (lot: number, aql: number, severity: "normal" | "tightened" | "reduced" = "normal") =>
  variablesPlan({ lot, level: "II", aql, severity, method: "s" });

describe("variablesPlan by the s method", () => {
  it("has the printed n and k in every cell, and follows arrows down", () => {
    reference.letters.forEach((letter, row) => {
      const lot = lotOf[letter]!;
      reference.aql.forEach((aql, column) => {
        const constants = reference.k as Record<string, (number | null)[]>;
        const used = reference.letters.slice(row).find((other) => constants[other]![column] !== null)!;
        const n = reference.n[reference.letters.indexOf(used)];
        const found = plan(lot, Number(aql));
        expect(found).toMatchObject({
          code: letter,
          usedCode: used,
          tableN: n,
          k: constants[used]![column],
          basis: "table",
        });
      });
    });
  });

  it("takes tightened constants from the column of the next smaller AQL, and has its own for the first", () => {
    for (const [letter, k] of Object.entries(reference.tightenedAtSmallest))
      expect(plan(lotOf[letter]!, 0.1, "tightened")).toMatchObject({ usedCode: letter, k });
    expect(plan(lotOf.J!, 1, "tightened").k).toBe(2.03);
  });

  it("gives the code letter of every level that its table has", () => {
    for (const [least, most, letters] of reference.codeLetters.rows as [number, number | null, string][])
      for (const lot of [least, most ?? 1e7])
        expect(
          INSPECTION_LEVELS.slice(2)
            .map((level) => variablesPlan({ lot, level, aql: 1, severity: "normal", method: "s" }).code)
            .join(""),
        ).toBe(letters);
    expect(hasVariablesLevel("s", "normal", "S-2")).toBe(false);
    expect(() => variablesPlan({ lot: 50, level: "S-1", aql: 1, severity: "normal", method: "s" })).toThrow(
      "level must be",
    );
  });

  // ISO 3951:1989 and OIML R 138:2007, see sampling-variables.source.md.
  it("gives the worked examples", () => {
    expect(plan(100, 2.5)).toMatchObject({ code: "F", n: 10, k: 1.41 });
    expect(plan(1000, 2.5)).toMatchObject({ code: "J", n: 35, k: 1.57 });
  });

  it("has the operating characteristic of the noncentral t distribution", () => {
    reference.letters.forEach((letter, row) =>
      reference.aql.forEach((aql, column) => {
        const pa = (reference.paAtAql as Record<string, (number | null)[]>)[letter]![column];
        const k = (reference.k as Record<string, (number | null)[]>)[letter]![column];
        if (pa === null || k === null) return;
        const ours = { by: "s", lot: 1000, n: reference.n[row]!, k: k! } as const;
        expectDigits(acceptanceProbability(ours, Number(aql) / 100), pa!, 9);
      }),
    );
  });
});

describe("variablesPlan by the sigma method and for reduced inspection", () => {
  // ISO 3951-1:2005 clause 16.2, from memory.
  it("gives the printed example", () => {
    const sigma = variablesPlan({ lot: 500, level: "II", aql: 1.5, severity: "normal", method: "sigma" });
    expect(sigma).toMatchObject({ code: "H", n: 12, k: 1.613, basis: "table" });
    const half = qualityAt({ by: "sigma", lot: 500, n: 12, k: 1.613 }, 0.5);
    expectDigits(half, 0.05337225389443417, 9);
  });

  it("accepts half of the time what the plan by attributes does, and falls at least as steeply", () => {
    for (const [lot, aql, severity] of [
      [1000, 1, "normal"],
      [1000, 4, "tightened"],
      [20_000, 0.65, "normal"],
      [60, 6.5, "reduced"],
    ] as const) {
      const method = severity === "reduced" ? "s" : "sigma";
      const found = variablesPlan({ lot, level: "II", aql, severity, method });
      expect(found.basis).toBe("computed");
      const known = { by: "sigma", lot: 1e9, n: found.tableN, k: found.k } as const;
      const ours = method === "sigma" ? known : { ...known, by: "s" as const };
      const { tableN: n, ac } = attributePlan({ lot, level: "II", aql, severity });
      const theirs = { by: "count", lot: 1e9, n, ac } as const;
      expect(qualityAt(ours, 0.5)).toBeCloseTo(qualityAt(theirs, 0.5), 3);
      if (method === "sigma")
        expect(qualityAt(ours, 0.1) / qualityAt(ours, 0.95)).toBeLessThan(
          qualityAt(theirs, 0.1) / qualityAt(theirs, 0.95) + 0.05,
        );
    }
  });

  it("refuses AQLs that the method has no plan for", () => {
    for (const aql of [0.065, 15, 3, Number.NaN]) expect(() => plan(100, aql)).toThrow("aql must be one of");
    expect(() => plan(1, 1)).toThrow("lot must be");
  });
});
