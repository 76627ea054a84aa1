import { describe, expect, it } from "vitest";
import { CoreError } from "@/lib/core/errors";
import { fitInterference, sizeLimits } from "@/lib/core/fit/fit-interference";
import { limitDeviations } from "@/lib/core/fit/limit-deviations";
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
    expect(TOLERANCE_GRADES.slice(4, 11).map((grade) => toleranceGradeUm(nominal, grade))).toEqual(widths);
    expect(Math.abs(toleranceFactorUm(nominal) - factor)).toBeLessThanOrEqual(0.00005);
  });

  it("puts a limit of a range into the lower range", () => {
    expect(toleranceGradeUm(30, "IT7")).toBe(21);
    expect(toleranceGradeUm(30.001, "IT7")).toBe(25);
    expect(toleranceGradeUm(50, "IT7")).toBe(25);
    expect(toleranceGradeUm(50.001, "IT7")).toBe(30);
  });

  it("agrees with the formula behind the table within its rounding from IT6 on", () => {
    // ISO 286-1, 4.2: IT6 to IT18 are 10, 16, 25, 40, 64, 100 ... tolerance factors, rounded: by 3 µm or 8 % at most over 3 mm
    const factors = [10, 16, 25, 40, 64, 100, 160, 250, 400, 640, 1000, 1600, 2500];
    for (const nominal of [5, 8, 15, 25, 42, 70, 100, 150, 220, 300, 350, 450])
      factors.forEach((times, index) => {
        const printed = toleranceGradeUm(nominal, TOLERANCE_GRADES[index + 5]!);
        const formula = times * toleranceFactorUm(nominal);
        expect(Math.abs(printed - formula), `${nominal} mm, grade ${index + 6}`).toBeLessThan(
          Math.max(3, 0.08 * formula),
        );
      });
  });

  it("refuses sizes outside 0-500 mm, other grades and NaN", () => {
    for (const nominal of [500.001, -42, 0]) expect(() => toleranceGradeUm(nominal, "IT7")).toThrow(CoreError);
    expect(() => toleranceGradeUm(NaN, "IT7")).toThrow(CoreError);
    expect(() => toleranceGradeUm(42, "IT0" as "IT5")).toThrow(CoreError);
  });
});

// Source: ISO 286-2, from memory, each size at the end of a range: it belongs to the lower one.
const AT_STEPS: [number, string, [number, number]][] = [
  [3, "h6", [0, -6]],
  [3, "f7", [-6, -16]],
  [3, "N7", [-4, -14]],
  [3.001, "N7", [-4, -16]],
  [6, "f7", [-10, -22]],
  [6.001, "f7", [-13, -28]],
  [10, "g6", [-5, -14]],
  [18, "k6", [12, 1]],
  [18, "K7", [6, -12]],
  [30, "g6", [-7, -20]],
  [30, "p6", [35, 22]],
  [50, "m6", [25, 9]],
  [50, "k6", [18, 2]],
  [50, "n6", [33, 17]],
  [50, "s6", [59, 43]],
  [50, "f7", [-25, -50]],
  [65, "r6", [60, 41]],
  [65.001, "r6", [62, 43]],
  [80, "P7", [-21, -51]],
  [80, "K8", [14, -32]],
  [100, "R7", [-38, -73]],
  [100, "P6", [-30, -52]],
  [120, "N7", [-10, -45]],
  [120, "S7", [-66, -101]],
  [120, "K6", [4, -18]],
  [25, "M8", [4, -29]],
  [25, "N9", [0, -52]],
  [25, "P9", [-22, -74]],
  [25, "h9", [0, -52]],
  [25, "js6", [6.5, -6.5]],
  [25, "j6", [9, -4]],
  [25, "J8", [20, -13]],
  [300, "M6", [-9, -41]],
];

// Source: ISO 286-2:1988/Cor.1:2006, the four values that it puts right.
const CORRIGENDUM: [number, string, "upperUm" | "lowerUm", number][] = [
  [350, "A13", "upperUm", 2090],
  [100, "E8", "upperUm", 126],
  [25, "R10", "upperUm", -28],
  [300, "f9", "lowerUm", -186],
];

describe("limitDeviations", () => {
  it.each(HOLES)("gives %s for 30-50 and 50-80", (hole, small, large) => {
    for (const [nominal, expected] of [
      [42, small],
      [50, small],
      [60, large],
    ] as const)
      expect(limitDeviations(nominal, hole)).toEqual({ upperUm: expected[0], lowerUm: expected[1] });
  });

  it.each(HOLES_18_30)("gives %s for 18-30", (hole, expected) => {
    expect(limitDeviations(25, hole)).toEqual({ upperUm: expected[0], lowerUm: expected[1] });
  });

  it("splits R7 at 65 mm", () => {
    expect(limitDeviations(65, "R7")).toEqual({ upperUm: -30, lowerUm: -60 });
    expect(limitDeviations(65.1, "R7")).toEqual({ upperUm: -32, lowerUm: -62 });
  });

  it.each(AT_STEPS)("gives %d %s", (nominal, toleranceClass, [upperUm, lowerUm]) => {
    expect(limitDeviations(nominal, toleranceClass)).toEqual({ upperUm, lowerUm });
  });

  it.each(CORRIGENDUM)("gives the corrected limit of %d %s", (nominal, toleranceClass, end, expected) => {
    expect(limitDeviations(nominal, toleranceClass)[end]).toBe(expected);
  });

  it("fits holes and shafts of one letter alike: H7/p6 as P7/h6", () => {
    // ISO 286-1, the general rule behind Delta: a hole with the finer shaft gives the fit of the shaft with the coarser hole
    for (const nominal of [5, 8, 15, 25, 42, 60, 100, 150, 220, 350, 450])
      for (const letter of ["k", "m", "n", "p", "r", "s", "u"]) {
        const holeBasis = limitDeviations(nominal, `${letter}6`).upperUm - limitDeviations(nominal, "H7").lowerUm;
        const shaftBasis =
          limitDeviations(nominal, "h6").upperUm - limitDeviations(nominal, `${letter.toUpperCase()}7`).lowerUm;
        expect(shaftBasis).toBe(holeBasis);
      }
  });

  it("refuses classes that the system does not have", () => {
    for (const hole of ["", "H0", "H19", "X7", "toString", "Js7", "t6", "J9", "j4", "K9", "K2", "7H", "H7.5"])
      expect(() => limitDeviations(20, hole)).toThrow(CoreError);
    expect(() => limitDeviations(NaN, "H7")).toThrow(CoreError);
    expect(() => limitDeviations(501, "H7")).toThrow(CoreError);
  });
});

describe("fitInterference", () => {
  it("gives 6-42 µm for a 42 mm bearing in P7", () => {
    // Source: the proposal's worked figures (D from ISO 286; bearing outside diameter 0/-11 µm): 6-42 µm.
    const hole = limitDeviations(42, "P7");
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
  });
});
