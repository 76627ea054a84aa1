import { CoreError } from "../errors";
import { deviationOfJUm, shaftDeviationUm } from "./fundamental-deviation";
import { type ToleranceGrade, toleranceGradeUm } from "./tolerance-grade";

/** Limit deviations from nominal, µm: upper (ES, es) and lower (EI, ei). */
export type LimitDeviations = { readonly upperUm: number; readonly lowerUm: number };

const CLASS = /^([A-Za-z]{1,2})(\d{1,2})$/;
const LARGEST_GRADE = 18;
/** Grades up to which the letters of holes from K on are moved by the difference of two grades. */
const DELTA_UP_TO: Readonly<Record<string, number>> = { K: 8, M: 8, N: 8, P: 7, R: 7, S: 7, T: 7, U: 7 };
/** M6 from 250 to 315 mm is a special case: -9, where the rule gives -11. */
const SPECIAL_M6 = { over: 250, upTo: 315, upperUm: -9 };
const NO_DELTA_UP_TO_MM = 3;

/**
 * Limit deviations by tolerance class: holes A to H, JS, J, K, M, N, P, R, S, T, U ("H7"), shafts the same in lower case
 * ("h6"), grades 1 to 18 as far as the system has them (holes from K on from grade 3).
 * Formula: holes up to H: EI = -es; holes from K on: ES = -ei + Delta, Delta = IT_n - IT_(n-1) for K, M, N to grade 8 and
 * for P and on to grade 7, 0 up to 3 mm; the other limit by the width of the grade.
 *
 * @param nominalMm - nominal size, over 0 up to and including 500 mm; a limit belongs to the lower range
 * @param toleranceClass - letter and grade
 * @returns upper and lower deviation, µm
 * @throws CoreError not-finite, out-of-range; invalid-argument for a class that the system does not have
 * Edge cases: JS and js are halved exactly (the standard allows rounding js7 to js11 to whole micrometres)
 * Source: ISO 286-1:2010 and ISO 286-2:2010 (through free secondary tables)
 * @example limitDeviations(42, "P7") // { upperUm: -17, lowerUm: -42 }
 */
export function limitDeviations(nominalMm: number, toleranceClass: string): LimitDeviations {
  const match = CLASS.exec(toleranceClass);
  const letter = match?.[1] ?? "";
  const grade = Number(match?.[2]);
  const isHole = letter === letter.toUpperCase();
  if (match === null || !(grade >= 1 && grade <= LARGEST_GRADE) || (!isHole && letter !== letter.toLowerCase()))
    throw refusal(toleranceClass);
  const width = toleranceGradeUm(nominalMm, `IT${grade}` as ToleranceGrade);
  if (letter.toLowerCase() === "js") return { upperUm: width / 2, lowerUm: -width / 2 };
  const found = isHole ? hole(letter, grade, nominalMm, width) : shaft(letter, grade, nominalMm, width);
  if (found === null) throw refusal(toleranceClass, nominalMm);
  // 0 - 0: never -0
  return { upperUm: found.upperUm + 0, lowerUm: found.lowerUm + 0 };
}

function shaft(letter: string, grade: number, nominalMm: number, width: number): LimitDeviations | null {
  const below = letter === "j" ? deviationOfJUm("shaft", grade, nominalMm) : null;
  if (below !== null) return { upperUm: width - below, lowerUm: -below };
  const es = shaftDeviationUm("below", letter, nominalMm);
  if (es !== null) return { upperUm: -es, lowerUm: -es - width };
  const ei = letter === "k" && (grade < 4 || grade > 7) ? 0 : shaftDeviationUm("above", letter, nominalMm);
  return ei === null ? null : { upperUm: ei + width, lowerUm: ei };
}

function hole(letter: string, grade: number, nominalMm: number, width: number): LimitDeviations | null {
  const above = letter === "J" ? deviationOfJUm("hole", grade, nominalMm) : null;
  if (above !== null) return { upperUm: above, lowerUm: above - width };
  const small = letter.toLowerCase();
  const es = shaftDeviationUm("below", small, nominalMm);
  if (es !== null) return { upperUm: es + width, lowerUm: es };
  const upperUm = upperOfHole(letter, small, grade, nominalMm);
  return upperUm === null ? null : { upperUm, lowerUm: upperUm - width };
}

function upperOfHole(letter: string, small: string, grade: number, nominalMm: number): number | null {
  const ei = shaftDeviationUm("above", small, nominalMm);
  if (ei === null || grade < 3) return null;
  const { over, upTo, upperUm } = SPECIAL_M6;
  if (letter === "M" && grade === 6 && nominalMm > over && nominalMm <= upTo) return upperUm;
  const tiny = nominalMm <= NO_DELTA_UP_TO_MM;
  if (grade > DELTA_UP_TO[letter]!) {
    if (letter === "K") return tiny ? 0 : null;
    return letter === "N" && !tiny ? 0 : -ei;
  }
  const widthOf = (of: number) => toleranceGradeUm(nominalMm, `IT${of}` as ToleranceGrade);
  return tiny ? -ei : -ei + widthOf(grade) - widthOf(grade - 1);
}

function refusal(toleranceClass: string, nominalMm?: number): CoreError {
  const at = nominalMm === undefined ? "" : ` at ${nominalMm} mm`;
  return new CoreError(
    "invalid-argument",
    `limitDeviations: toleranceClass must be a letter (a to h, js, j, k, m, n, p to u; capitals for holes) and a grade that the system has${at}; got ${toleranceClass}`,
  );
}
