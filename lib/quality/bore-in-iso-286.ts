import { CoreError } from "../core/errors";
import { limitDeviations } from "../core/fit/limit-deviations";
import { TOLERANCE_GRADES, toleranceGradeUm, type ToleranceGrade } from "../core/fit/tolerance-grade";
import type { ShellDrawing } from "../core/metrology/shell-drawing";

/** How the limits of a bore read in the system of ISO 286. */
export type BoreInIso286 = {
  /** From the nominal size, µm. */
  readonly upperUm: number;
  readonly lowerUm: number;
  /** The class that has these limits, such as N7; null where none has. */
  readonly toleranceClass: string | null;
  /** The coarsest grade that is no wider, the finest that is no narrower; null beyond the system's ends. */
  readonly finer: ToleranceGrade | null;
  readonly coarser: ToleranceGrade | null;
};

const HOLES = ["A", "B", "C", "D", "E", "F", "G", "H", "JS", "J", "K", "M", "N", "P", "R", "S", "T", "U"];
/** Limits are typed in whole or tenths of a micrometre. */
const SAME_UM = 0.05;

function deviationsOf(nominalMm: number, toleranceClass: string) {
  try {
    return limitDeviations(nominalMm, toleranceClass);
  } catch (error) {
    // The system has not every letter in every grade.
    if (error instanceof CoreError && error.code === "invalid-argument") return null;
    throw error;
  }
}

/**
 * The limits of a drawing's bore as ISO 286 names them.
 *
 * @returns null where the bore has one limit only
 * @throws CoreError out-of-range for a nominal size beyond 500 mm
 * Source: ISO 286-1:2010, ISO 286-2:2010
 */
export function boreInIso286(drawing: ShellDrawing): BoreInIso286 | null {
  const bore = drawing.characteristics.find(({ name }) => name === "bore");
  if (bore === undefined || bore.lower === null || bore.upper === null) return null;
  const { nominalBoreMm } = drawing;
  const [lowerUm, upperUm] = [bore.lower, bore.upper].map((limit) => (limit - nominalBoreMm) * 1000) as [
    number,
    number,
  ];
  const width = upperUm - lowerUm;
  const widths = TOLERANCE_GRADES.map((grade) => ({ grade, um: toleranceGradeUm(nominalBoreMm, grade) }));
  const finer = widths.findLast(({ um }) => um <= width + SAME_UM)?.grade ?? null;
  const coarser = widths.find(({ um }) => um >= width - SAME_UM)?.grade ?? null;
  const toleranceClass =
    finer === null || finer !== coarser
      ? undefined
      : HOLES.map((letter) => `${letter}${finer.slice(2)}`).find((name) => {
          const found = deviationsOf(nominalBoreMm, name);
          return (
            found !== null && Math.abs(found.upperUm - upperUm) < SAME_UM && Math.abs(found.lowerUm - lowerUm) < SAME_UM
          );
        });
  return { upperUm, lowerUm, toleranceClass: toleranceClass ?? null, finer, coarser };
}
