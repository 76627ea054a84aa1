import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { CoreError } from "@/lib/core/errors";
import { leastSquaresFactors, type Matrix } from "@/lib/core/numerics/least-squares";
import { expectDigits } from "@/tests/helpers/expect-digits";

function matrix(rows: readonly (readonly number[])[]): Matrix {
  return { rows: rows.length, cols: rows[0]?.length ?? 0, data: Float64Array.from(rows.flat()) };
}

function solve(design: Matrix, y: readonly number[]): number[] {
  const factors = leastSquaresFactors(design);
  if (!factors.ok) throw new Error(factors.reason);
  const { data } = factors.value.inverse;
  return Array.from({ length: design.cols }, (_, j) =>
    y.reduce((sum, value, i) => sum + (data[j * design.rows + i] ?? NaN) * value, 0),
  );
}

describe("leastSquaresFactors", () => {
  it("fits a straight line as worked by hand", () => {
    // x = 0..3, y = 1, 3, 4, 8: means 1.5 and 4; Sxy = 11, Sxx = 5; slope 2.2, intercept 0.7.
    const design = matrix([0, 1, 2, 3].map((x) => [1, x]));
    const [intercept = NaN, slope = NaN] = solve(design, [1, 3, 4, 8]);
    expectDigits(intercept, 0.7, 13);
    expectDigits(slope, 2.2, 13);
    const factors = leastSquaresFactors(design);
    if (!factors.ok) throw new Error(factors.reason);
    // Variance of the slope 1 / Sxx; leverages 1/n + (x - mean)^2 / Sxx; they add up to the number of unknowns.
    expectDigits(factors.value.covariance.data[3] ?? NaN, 0.2, 13);
    expectDigits(factors.value.leverages[0] ?? NaN, 0.7, 13);
    expectDigits(
      factors.value.leverages.reduce((a, b) => a + b, 0),
      2,
      13,
    );
  });

  it("keeps its digits where normal equations lose them: a quadratic far from the origin", () => {
    // y = 2 + 3 t + 0.5 t^2 with t = x - 100: the column of x^2 is nearly dependent on the others.
    const xs = [98, 99, 100, 101, 102, 103];
    const y = xs.map((x) => 2 + 3 * (x - 100) + 0.5 * (x - 100) ** 2);
    const [, , curvature = NaN] = solve(matrix(xs.map((x) => [1, x, x * x])), y);
    // Condition of the design is about 1e8: half of the sixteen digits remain.
    expectDigits(curvature, 0.5, 8);
  });

  it("refuses dependent columns at any scale", () => {
    for (const scale of [1e-9, 1, 1e9]) {
      const dependent = [1, 2, 3, 4].map((x) => [scale, scale * x, scale * (2 * x + 1)]);
      expect(leastSquaresFactors(matrix(dependent))).toMatchObject({ ok: false });
    }
    expect(
      leastSquaresFactors(
        matrix([
          [1, 0],
          [1, 0],
        ]),
      ),
    ).toMatchObject({ ok: false });
  });

  it("refuses fewer rows than columns and numbers that are none", () => {
    expect(() => leastSquaresFactors(matrix([[1, 2]]))).toThrow(CoreError);
    expect(() =>
      leastSquaresFactors(
        matrix([
          [1, NaN],
          [1, 2],
        ]),
      ),
    ).toThrow(CoreError);
  });

  it("reproduces what the model made, whatever the scale of the columns", () => {
    const number = fc.double({ min: -10, max: 10, noNaN: true });
    fc.assert(
      fc.property(
        fc.array(number, { minLength: 6, maxLength: 12 }),
        number,
        number,
        fc.constantFrom(1e-6, 1, 1e6),
        (xs, a, b, scale) => {
          const spread = Math.max(...xs) - Math.min(...xs);
          fc.pre(spread > 0.1);
          const design = matrix(xs.map((x) => [1, scale * x]));
          const [intercept = NaN, slope = NaN] = solve(
            design,
            xs.map((x) => a + b * x),
          );
          expect(Math.abs(intercept - a)).toBeLessThan(1e-9);
          expect(Math.abs(slope * scale - b)).toBeLessThan(1e-9);
        },
      ),
      { seed: 41, numRuns: 200 },
    );
  });
});
