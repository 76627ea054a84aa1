import { describe, expect, it } from "vitest";
import { CoreError } from "@/lib/core/errors";
import { fitInterference, sizeLimits, streamInterference } from "@/lib/core/fit/fit-interference";
import { holeDeviations } from "@/lib/core/fit/hole-deviations";
import { TOLERANCE_GRADES, toleranceFactorUm, toleranceGradeUm } from "@/lib/core/fit/tolerance-grade";
import { expectDigits } from "@/tests/helpers/expect-digits";

// Source: ISO 286-1 table 1 and ISO 286-2, read through free secondary tables (30-80 mm), November 2025.
const GRADES: [number, number, number[]][] = [
  [30, 1.3074, [9, 13, 21, 33, 52, 84, 130]],
  [42, 1.5612, [11, 16, 25, 39, 62, 100, 160]],
  [80, 1.8561, [13, 19, 30, 46, 74, 120, 190]],
];
const HOLES: [string, [number, number], [number, number]][] = [
  ["H6", [16, 0], [19, 0]],
  ["H7", [25, 0], [30, 0]],
  ["H8", [39, 0], [46, 0]],
  ["J7", [14, -11], [18, -12]],
  ["JS7", [12.5, -12.5], [15, -15]],
  ["K7", [7, -18], [9, -21]],
  ["M7", [0, -25], [0, -30]],
  ["N7", [-8, -33], [-9, -39]],
  ["P7", [-17, -42], [-21, -51]],
  ["R7", [-25, -50], [-30, -60]],
];
// Source: ISO 286-2, 18-30 mm, from memory.
const HOLES_18_30: [string, [number, number]][] = [
  ["H7", [21, 0]],
  ["J7", [12, -9]],
  ["JS7", [10.5, -10.5]],
  ["K7", [6, -15]],
  ["M7", [0, -21]],
  ["N7", [-7, -28]],
  ["P7", [-14, -35]],
  ["R7", [-20, -41]],
];

describe("toleranceGradeUm", () => {
  it.each(GRADES)("gives IT5 to IT11 and the tolerance factor of the range of %d mm", (nominal, factor, widths) => {
    expect(TOLERANCE_GRADES.map((grade) => toleranceGradeUm(nominal, grade))).toEqual(widths);
    expect(Math.abs(toleranceFactorUm(nominal) - factor)).toBeLessThanOrEqual(0.00005);
  });

  it("puts a limit of a range into the lower range", () => {
    expect(toleranceGradeUm(30, "IT7")).toBe(21);
    expect(toleranceGradeUm(30.001, "IT7")).toBe(25);
    expect(toleranceGradeUm(50, "IT7")).toBe(25);
    expect(toleranceGradeUm(50.001, "IT7")).toBe(30);
  });

  it("refuses sizes outside 18-80 mm, other grades and NaN", () => {
    for (const nominal of [18, 17, 80.001, -42, 0]) expect(() => toleranceGradeUm(nominal, "IT7")).toThrow(CoreError);
    expect(() => toleranceGradeUm(NaN, "IT7")).toThrow(CoreError);
    expect(() => toleranceGradeUm(42, "IT4" as "IT5")).toThrow(CoreError);
  });
});

describe("holeDeviations", () => {
  it.each(HOLES)("gives %s for 30-50 and 50-80", (hole, small, large) => {
    for (const [nominal, expected] of [
      [42, small],
      [50, small],
      [60, large],
    ] as const)
      expect(holeDeviations(nominal, hole)).toEqual({ upperUm: expected[0], lowerUm: expected[1] });
  });

  it.each(HOLES_18_30)("gives %s for 18-30", (hole, expected) => {
    expect(holeDeviations(25, hole)).toEqual({ upperUm: expected[0], lowerUm: expected[1] });
  });

  it("splits R7 at 65 mm", () => {
    expect(holeDeviations(65, "R7")).toEqual({ upperUm: -30, lowerUm: -60 });
    expect(holeDeviations(65.1, "R7")).toEqual({ upperUm: -32, lowerUm: -62 });
  });

  it("refuses classes it has no table for", () => {
    for (const hole of ["", "H4", "H12", "P6", "h7", "X7", "toString"])
      expect(() => holeDeviations(42, hole)).toThrow(CoreError);
  });
});

describe("fitInterference", () => {
  it("gives 6-42 µm for a 42 mm bearing in P7", () => {
    // Source: the proposal's worked figures (D from ISO 286; bearing outside diameter 0/-11 µm): 6-42 µm.
    const hole = holeDeviations(42, "P7");
    const seat = sizeLimits(42, [hole.upperUm, hole.lowerUm]);
    const fit = fitInterference(sizeLimits(42, [0, -11]), seat);
    expectDigits(seat.leastMm, 41.958, 12);
    expectDigits(seat.mostMm, 41.983, 12);
    expect(Math.abs(fit.leastUm - 6)).toBeLessThan(1e-9);
    expect(Math.abs(fit.mostUm - 42)).toBeLessThan(1e-9);
    expect(fit.kind).toBe("interference");
  });

  it("tells clearance and transition from interference", () => {
    expect(fitInterference(sizeLimits(42, [0, -11]), sizeLimits(42, [25, 0])).kind).toBe("clearance");
    expect(fitInterference(sizeLimits(42, [0, -11]), sizeLimits(42, [7, -18])).kind).toBe("transition");
  });

  it("takes the stream's own spread: mean and root sum of squares", () => {
    // By hand: mean 42 - 0.0055 - 41.97 = 24.5 µm; sd sqrt(4^2 + (11/6)^2) = 4.400126 µm.
    const stream = streamInterference({ meanMm: 41.97, standardDeviationMm: 0.004 }, sizeLimits(42, [0, -11]));
    expectDigits(stream.meanUm, 24.5, 9);
    expectDigits(stream.standardDeviationUm, 4.400126, 6);
    expectDigits(stream.mostUm, 24.5 + 3 * 4.400126, 6);
  });

  it("refuses NaN, sizes below zero and limits the wrong way round", () => {
    const good = { leastMm: 42, mostMm: 42.01 };
    for (const bad of [
      { leastMm: NaN, mostMm: 42 },
      { leastMm: -1, mostMm: 42 },
      { leastMm: 43, mostMm: 42 },
    ]) {
      expect(() => fitInterference(bad, good)).toThrow(CoreError);
      expect(() => fitInterference(good, bad)).toThrow(CoreError);
    }
    expect(() => streamInterference({ meanMm: 42, standardDeviationMm: -1 }, good)).toThrow(CoreError);
  });
});
