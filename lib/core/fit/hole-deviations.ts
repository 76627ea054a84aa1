import { CoreError } from "../errors";
import { rangeOf, TOLERANCE_GRADES, type ToleranceGrade, toleranceGradeUm } from "./tolerance-grade";

/** Limit deviations of a hole from nominal, µm, upper (ES) and lower (EI). */
export type LimitDeviations = { readonly upperUm: number; readonly lowerUm: number };

/** Holes of grade 7 that do not follow from their grade alone: [ES, EI] for over 18-30, 30-50, 50-80 (R7: 50-65 and 65-80). */
const HOLES_OF_GRADE_7: Readonly<Record<string, readonly (readonly [number, number])[]>> = {
  J7: [
    [12, -9],
    [14, -11],
    [18, -12],
  ],
  K7: [
    [6, -15],
    [7, -18],
    [9, -21],
  ],
  M7: [
    [0, -21],
    [0, -25],
    [0, -30],
  ],
  N7: [
    [-7, -28],
    [-8, -33],
    [-9, -39],
  ],
  P7: [
    [-14, -35],
    [-17, -42],
    [-21, -51],
  ],
  R7: [
    [-20, -41],
    [-25, -50],
    [-30, -60],
  ],
};

/** R7 over 65 mm, where the size range of the deviation is split. */
const R7_OVER_65 = [-32, -62] as const;

/**
 * Limit deviations of a hole by its tolerance class.
 *
 * @param nominalMm - nominal size, over 18 up to and including 80 mm; a limit belongs to the lower range
 * @param toleranceClass - H or JS with IT5 to IT11 ("H7", "JS6"), or J7, K7, M7, N7, P7, R7
 * @returns upper and lower deviation, µm
 * @throws CoreError not-finite, out-of-range; invalid-argument for another class
 * Source: ISO 286-2:2010 (30-80 mm through free secondary tables; the column 18-30 from memory)
 */
export function holeDeviations(nominalMm: number, toleranceClass: string): LimitDeviations {
  const range = rangeOf(nominalMm, "holeDeviations");
  const column = range.over === 18 ? 0 : range.over === 30 ? 1 : 2;
  const row = Object.hasOwn(HOLES_OF_GRADE_7, toleranceClass) ? HOLES_OF_GRADE_7[toleranceClass] : undefined;
  if (row !== undefined) {
    const [upperUm, lowerUm] = toleranceClass === "R7" && nominalMm > 65 ? R7_OVER_65 : row[column]!;
    return { upperUm, lowerUm };
  }
  const match = /^(H|JS)(\d+)$/.exec(toleranceClass);
  const grade = `IT${match?.[2]}` as ToleranceGrade;
  if (match === null || !TOLERANCE_GRADES.includes(grade))
    throw new CoreError(
      "invalid-argument",
      `holeDeviations: toleranceClass must be H5-H11, JS5-JS11, J7, K7, M7, N7, P7 or R7; got ${toleranceClass}`,
    );
  const width = toleranceGradeUm(nominalMm, grade);
  return match[1] === "H" ? { upperUm: width, lowerUm: 0 } : { upperUm: width / 2, lowerUm: -width / 2 };
}
