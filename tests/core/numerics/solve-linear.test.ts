import { describe, expect, it } from "vitest";
import { solveLinear } from "@/lib/core/numerics/solve-linear";
import { expectDigits } from "@/tests/helpers/expect-digits";

describe("solveLinear", () => {
  it("solves a system that needs its rows exchanged", () => {
    // elementary: x = 2, y = 3
    expect([...solveLinear(Float64Array.of(0, 1, 1, 1), Float64Array.of(3, 5))]).toEqual([2, 3]);
  });

  it("solves the Hilbert system of order 5 for a right side that makes every unknown 1", () => {
    // definition of the matrix; its condition number is 4.8e5 (Higham, Accuracy and Stability, 2nd ed., section 28.1)
    const n = 5;
    const entry = (row: number, col: number) => 1 / (row + col + 1);
    const indices = [0, 1, 2, 3, 4];
    const matrix = Float64Array.from(indices.flatMap((row) => indices.map((col) => entry(row, col))));
    const right = Float64Array.from(indices, (row) => indices.reduce((sum, col) => sum + entry(row, col), 0));
    solveLinear(matrix, right).forEach((value) => expectDigits(value, 1, 10));
    expect(right).toHaveLength(n);
  });

  it("refuses a singular matrix and one of another size", () => {
    expect(() => solveLinear(Float64Array.of(1, 2, 2, 4), Float64Array.of(1, 2))).toThrow(
      expect.objectContaining({ code: "degenerate" }),
    );
    expect(() => solveLinear(Float64Array.of(1), Float64Array.of(1, 2))).toThrow(
      expect.objectContaining({ code: "length-mismatch" }),
    );
  });
});
