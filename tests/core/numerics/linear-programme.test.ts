import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { CoreError } from "@/lib/core/errors";
import { type LinearProgramme, solveLinearProgramme } from "@/lib/core/numerics/linear-programme";
import { expectDigits } from "@/tests/helpers/expect-digits";

function programme(objective: number[], rows: number[][], limits: number[], bound = 100): LinearProgramme {
  return {
    objective,
    rows: new Float64Array(rows.flat()),
    limits: new Float64Array(limits),
    count: rows.length,
    bounds: objective.map(() => bound),
    tolerance: 1e-12,
  };
}

/** Least objective over all corners of three unknowns: the slow obvious way. */
function bestCorner({ objective, rows, limits, count, bounds }: LinearProgramme): number {
  const all: { a: number[]; b: number }[] = [];
  for (let i = 0; i < count; i++) all.push({ a: Array.from(rows.slice(i * 3, i * 3 + 3)), b: limits[i] ?? NaN });
  for (let k = 0; k < 3; k++)
    for (const sign of [1, -1]) all.push({ a: [0, 1, 2].map((j) => (j === k ? sign : 0)), b: bounds[k] ?? NaN });
  const det = (m: number[][]) =>
    m[0]![0]! * (m[1]![1]! * m[2]![2]! - m[1]![2]! * m[2]![1]!) -
    m[0]![1]! * (m[1]![0]! * m[2]![2]! - m[1]![2]! * m[2]![0]!) +
    m[0]![2]! * (m[1]![0]! * m[2]![1]! - m[1]![1]! * m[2]![0]!);
  let best = Infinity;
  for (let i = 0; i < all.length; i++)
    for (let j = i + 1; j < all.length; j++)
      for (let k = j + 1; k < all.length; k++) {
        const chosen = [all[i]!, all[j]!, all[k]!];
        const d = det(chosen.map((c) => c.a));
        if (Math.abs(d) < 1e-9) continue;
        const x = [0, 1, 2].map((v) => det(chosen.map((c) => c.a.map((a, n) => (n === v ? c.b : a)))) / d);
        if (all.some(({ a, b }) => a[0]! * x[0]! + a[1]! * x[1]! + a[2]! * x[2]! > b + 1e-9)) continue;
        best = Math.min(best, objective[0]! * x[0]! + objective[1]! * x[1]! + objective[2]! * x[2]!);
      }
  return best;
}

describe("solveLinearProgramme", () => {
  it("solves the product mix of two constraints by hand", () => {
    // Maximise 3x + 2y, x + y <= 4, x + 3y <= 6, x <= 3: by hand x = 3, y = 1, value 11.
    const solved = solveLinearProgramme(
      programme(
        [-3, -2],
        [
          [1, 1],
          [1, 3],
          [1, 0],
          [-1, 0],
          [0, -1],
        ],
        [4, 6, 3, 0, 0],
      ),
    );
    if (!solved.ok) throw new Error(solved.reason);
    expectDigits(solved.value.x[0] ?? NaN, 3, 12);
    expectDigits(solved.value.x[1] ?? NaN, 1, 12);
    expect(solved.value.atBound).toBe(false);
  });

  it("agrees with the enumeration of all corners, also from the basis of another programme", () => {
    const number = fc.integer({ min: -9, max: 9 });
    fc.assert(
      fc.property(
        fc.tuple(number, number, number),
        fc.array(fc.tuple(fc.tuple(number, number, number), fc.integer({ min: -5, max: 20 })), {
          minLength: 1,
          maxLength: 9,
        }),
        (objective, constraints) => {
          const given = programme(
            objective,
            constraints.map(([a]) => a),
            constraints.map(([, b]) => b),
            10,
          );
          const expected = bestCorner(given);
          const solved = solveLinearProgramme(given);
          expect(solved.ok).toBe(Number.isFinite(expected));
          if (!solved.ok) return;
          const value = solved.value.x.reduce((sum, v, k) => sum + v * (objective[k] ?? 0), 0);
          expect(Math.abs(value - expected)).toBeLessThan(1e-8);
          const again = solveLinearProgramme({ ...given, startBasis: solved.value.basis });
          expect(again.ok && again.value.x).toEqual(solved.value.x);
        },
      ),
      { seed: 41, numRuns: 400 },
    );
  });

  it("says infeasible where no point meets the rows", () => {
    expect(solveLinearProgramme(programme([1], [[1], [-1]], [1, -2]))).toEqual({ ok: false, reason: "infeasible" });
  });

  it("refuses an empty objective and endless numbers", () => {
    expect(() => solveLinearProgramme(programme([], [], []))).toThrow(CoreError);
    expect(() => solveLinearProgramme(programme([NaN], [[1]], [1]))).toThrow(CoreError);
    expect(() => solveLinearProgramme({ ...programme([1], [[1]], [1]), bounds: [Infinity] })).toThrow(CoreError);
  });
});
