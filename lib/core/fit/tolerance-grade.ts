import { CoreError } from "../errors";

/** Standard tolerance grades that seats and bearings of a shell use. */
export const TOLERANCE_GRADES = ["IT5", "IT6", "IT7", "IT8", "IT9", "IT10", "IT11"] as const;

export type ToleranceGrade = (typeof TOLERANCE_GRADES)[number];

/** Ranges of nominal size, mm: over the first, up to and including the second; then IT5 to IT11 in µm. */
const GRADE_TABLE = [
  { over: 18, upTo: 30, widthsUm: [9, 13, 21, 33, 52, 84, 130] },
  { over: 30, upTo: 50, widthsUm: [11, 16, 25, 39, 62, 100, 160] },
  { over: 50, upTo: 80, widthsUm: [13, 19, 30, 46, 74, 120, 190] },
] as const;

/**
 * Width of a standard tolerance grade.
 *
 * @param nominalMm - nominal size, over 18 up to and including 80 mm; a limit belongs to the lower range
 * @param grade - IT5 to IT11
 * @returns width of the tolerance, µm
 * @throws CoreError not-finite; out-of-range outside 18-80 mm; invalid-argument for another grade
 * Edge cases: 30 is in 18-30, 50 is in 30-50
 * Source: ISO 286-1:2010, table 1 (through free secondary tables)
 */
export function toleranceGradeUm(nominalMm: number, grade: ToleranceGrade): number {
  const index = TOLERANCE_GRADES.indexOf(grade);
  if (index < 0)
    throw new CoreError(
      "invalid-argument",
      `toleranceGradeUm: grade must be one of ${TOLERANCE_GRADES.join(", ")}; got ${grade}`,
    );
  return rangeOf(nominalMm, "toleranceGradeUm").widthsUm[index]!;
}

/** The row of the size ranges that a nominal size falls in. */
export function rangeOf(nominalMm: number, caller: string): (typeof GRADE_TABLE)[number] {
  if (!Number.isFinite(nominalMm))
    throw new CoreError("not-finite", `${caller}: nominalMm must be finite; got ${nominalMm}`);
  const range = GRADE_TABLE.find(({ over, upTo }) => nominalMm > over && nominalMm <= upTo);
  if (range === undefined)
    throw new CoreError("out-of-range", `${caller}: nominalMm must be over 18 up to 80 mm; got ${nominalMm}`, {
      nominalMm,
    });
  return range;
}

/**
 * Standard tolerance factor i of the formula behind the table (IT7 = 16 i); the table wins where rounding differs.
 * Formula: i = 0.45 D^(1/3) + 0.001 D, D geometric mean of the range's limits
 *
 * @returns i, µm
 * Source: ISO 286-1:2010, 4.2 (annex)
 */
export function toleranceFactorUm(nominalMm: number): number {
  const { over, upTo } = rangeOf(nominalMm, "toleranceFactorUm");
  const mean = Math.sqrt(over * upTo);
  return 0.45 * Math.cbrt(mean) + 0.001 * mean;
}
