import { CoreError } from "../errors";

/** Standard tolerance grades. */
export const TOLERANCE_GRADES = [
  "IT1",
  "IT2",
  "IT3",
  "IT4",
  "IT5",
  "IT6",
  "IT7",
  "IT8",
  "IT9",
  "IT10",
  "IT11",
  "IT12",
  "IT13",
  "IT14",
  "IT15",
  "IT16",
  "IT17",
  "IT18",
] as const;

export type ToleranceGrade = (typeof TOLERANCE_GRADES)[number];

/** Largest nominal size of each range, mm: over the one before, up to and including it. */
const RANGES_UP_TO = [3, 6, 10, 18, 30, 50, 80, 120, 180, 250, 315, 400, 500];
const LARGEST = 500;

/** Widths of the grades by range, µm. */
const WIDTHS_UM: Readonly<Record<ToleranceGrade, readonly number[]>> = {
  IT1: [0.8, 1, 1, 1.2, 1.5, 1.5, 2, 2.5, 3.5, 4.5, 6, 7, 8],
  IT2: [1.2, 1.5, 1.5, 2, 2.5, 2.5, 3, 4, 5, 7, 8, 9, 10],
  IT3: [2, 2.5, 2.5, 3, 4, 4, 5, 6, 8, 10, 12, 13, 15],
  IT4: [3, 4, 4, 5, 6, 7, 8, 10, 12, 14, 16, 18, 20],
  IT5: [4, 5, 6, 8, 9, 11, 13, 15, 18, 20, 23, 25, 27],
  IT6: [6, 8, 9, 11, 13, 16, 19, 22, 25, 29, 32, 36, 40],
  IT7: [10, 12, 15, 18, 21, 25, 30, 35, 40, 46, 52, 57, 63],
  IT8: [14, 18, 22, 27, 33, 39, 46, 54, 63, 72, 81, 89, 97],
  IT9: [25, 30, 36, 43, 52, 62, 74, 87, 100, 115, 130, 140, 155],
  IT10: [40, 48, 58, 70, 84, 100, 120, 140, 160, 185, 210, 230, 250],
  IT11: [60, 75, 90, 110, 130, 160, 190, 220, 250, 290, 320, 360, 400],
  IT12: [100, 120, 150, 180, 210, 250, 300, 350, 400, 460, 520, 570, 630],
  IT13: [140, 180, 220, 270, 330, 390, 460, 540, 630, 720, 810, 890, 970],
  IT14: [250, 300, 360, 430, 520, 620, 740, 870, 1000, 1150, 1300, 1400, 1550],
  IT15: [400, 480, 580, 700, 840, 1000, 1200, 1400, 1600, 1850, 2100, 2300, 2500],
  IT16: [600, 750, 900, 1100, 1300, 1600, 1900, 2200, 2500, 2900, 3200, 3600, 4000],
  IT17: [1000, 1200, 1500, 1800, 2100, 2500, 3000, 3500, 4000, 4600, 5200, 5700, 6300],
  IT18: [1400, 1800, 2200, 2700, 3300, 3900, 4600, 5400, 6300, 7200, 8100, 8900, 9700],
};

/**
 * Width of a standard tolerance grade.
 *
 * @param nominalMm - nominal size, over 0 up to and including 500 mm; a limit belongs to the lower range
 * @param grade - IT1 to IT18
 * @returns width of the tolerance, µm
 * @throws CoreError not-finite; out-of-range outside 0-500 mm; invalid-argument for another grade
 * Edge cases: 30 is in 18-30, 50 is in 30-50
 * Source: ISO 286-1:2010, table 1 (through free secondary tables)
 */
export function toleranceGradeUm(nominalMm: number, grade: ToleranceGrade): number {
  if (!TOLERANCE_GRADES.includes(grade))
    throw new CoreError("invalid-argument", `toleranceGradeUm: grade must be one of IT1 to IT18; got ${grade}`);
  return WIDTHS_UM[grade][placeOf(nominalMm, "toleranceGradeUm")]!;
}

/** Place of a nominal size among the ranges. */
function placeOf(nominalMm: number, caller: string): number {
  requireNominal(nominalMm, caller);
  return RANGES_UP_TO.findIndex((upTo) => nominalMm <= upTo);
}

/** The range of sizes that a nominal size falls in, mm. */
export function rangeOf(nominalMm: number, caller: string): { readonly over: number; readonly upTo: number } {
  const place = placeOf(nominalMm, caller);
  return { over: place === 0 ? 0 : RANGES_UP_TO[place - 1]!, upTo: RANGES_UP_TO[place]! };
}

/** Throws unless the system knows the size. */
export function requireNominal(nominalMm: number, caller: string): void {
  if (!Number.isFinite(nominalMm))
    throw new CoreError("not-finite", `${caller}: nominalMm must be finite; got ${nominalMm}`);
  if (!(nominalMm > 0 && nominalMm <= LARGEST))
    throw new CoreError("out-of-range", `${caller}: nominalMm must be over 0 up to ${LARGEST} mm; got ${nominalMm}`, {
      nominalMm,
    });
}

/**
 * Standard tolerance factor i of the formula behind the table (IT7 = 16 i); the table wins where rounding differs.
 * Formula: i = 0.45 D^(1/3) + 0.001 D, D geometric mean of the range's limits (1 and 3 for the first)
 *
 * @returns i, µm
 * Source: ISO 286-1:2010, 4.2 (annex)
 */
export function toleranceFactorUm(nominalMm: number): number {
  const { over, upTo } = rangeOf(nominalMm, "toleranceFactorUm");
  const mean = Math.sqrt(Math.max(1, over) * upTo);
  return 0.45 * Math.cbrt(mean) + 0.001 * mean;
}
