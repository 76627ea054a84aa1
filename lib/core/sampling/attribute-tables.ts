import { CoreError } from "../errors";

export const INSPECTION_LEVELS = ["S-1", "S-2", "S-3", "S-4", "I", "II", "III"] as const;
export type InspectionLevel = (typeof INSPECTION_LEVELS)[number];

export const SEVERITIES = ["normal", "tightened", "reduced"] as const;
export type Severity = (typeof SEVERITIES)[number];

/** Preferred acceptance quality limits; up to 10 in percent nonconforming, all of them in nonconformities per 100 items. */
export const PREFERRED_AQLS = [
  0.01, 0.015, 0.025, 0.04, 0.065, 0.1, 0.15, 0.25, 0.4, 0.65, 1, 1.5, 2.5, 4, 6.5, 10, 15, 25, 40, 65, 100, 150, 250,
  400, 650, 1000,
] as const;

/** S stands below the table of tightened inspection, for the only arrow that leads out of it. */
export const CODE_LETTERS = [..."ABCDEFGHJKLMNPQRS"] as readonly string[];

/** Sample sizes of letters A to S. */
const SIZES = [2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800, 1250, 2000, 3150];
const REDUCED_SIZES = [2, 2, 2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800];

/** Largest lot of each row of the table of code letters, with the letters of the seven levels in their order. */
const LETTER_ROWS: readonly (readonly [number, string])[] = [
  [8, "AAAAAAB"],
  [15, "AAAAABC"],
  [25, "AABBBCD"],
  [50, "ABBCCDE"],
  [90, "BBCCCEF"],
  [150, "BBCDDFG"],
  [280, "BCDEEGH"],
  [500, "BCDEFHJ"],
  [1200, "CCEFGJK"],
  [3200, "CDEGHKL"],
  [10_000, "CDFGJLM"],
  [35_000, "CDFHKMN"],
  [150_000, "DEGJLNP"],
  [500_000, "DEGJMPQ"],
  [Infinity, "DEHKNQR"],
];

type Step = number | "up" | "down";

/**
 * What the tables hold along their diagonals: the same on every place whose row and column numbers have the same sum, here from
 * the diagonal of Ac = 0 on. Before it lie arrows down, after it arrows up.
 */
const DIAGONALS: Record<Severity, { readonly from: number; readonly steps: readonly Step[] }> = {
  normal: { from: 14, steps: [0, "up", "down", 1, 2, 3, 5, 7, 10, 14, 21, 30, 44] },
  tightened: { from: 15, steps: [0, "down", "down", 1, 2, 3, 5, 8, 12, 18, 27, 41] },
  reduced: { from: 14, steps: [0, "up", "down", "down", 1, 2, 3, 5, 6, 8, 10, 14, 21] },
};

/** Rows from F on end with this acceptance number. */
const LARGEST_BELOW_E: Record<Severity, number> = { normal: 21, tightened: 18, reduced: 10 };
const ROW_F = 5;

/** Reduced inspection from AQL 25 on: rows A and B have samples of 2 that cannot shrink, and accept what normal row A does. */
const REDUCED_SMALLEST = [1, 2, 3, 5, 7, 10, 14, 21, 30];
const COLUMN_25 = 17;

export type TableCell = { readonly ac: number; readonly re: number } | "up" | "down";

/**
 * Cell of a master table of single sampling.
 * @param row - place of the code letter in CODE_LETTERS, 0 to 15, or 16 (S) for the tightened plan at AQL 0.025
 * @param column - place of the AQL in PREFERRED_AQLS, 0 to 25
 * @returns acceptance and rejection number, or the arrow as it leads to a plan: one that would lead out of the table is turned round
 * @throws CoreError out-of-range for another place
 * Source: ISO 2859-1:1999 tables 2-A, 2-B, 2-C. Without a second check: normal and reduced R at 0.015 (no plan below: up), A at 10
 *   (arrow down), reduced A and B from 25 on, reduced C from 15 on, reduced D and E with Ac 14 and 21.
 */
export function tableCell(severity: Severity, row: number, column: number): TableCell {
  if (!(CODE_LETTERS[row] !== undefined && column >= 0 && column < PREFERRED_AQLS.length))
    throw new CoreError("out-of-range", `tableCell: row and column must be in the table; got ${row}, ${column}`);
  const written = writtenStep(severity, row, column);
  if (typeof written === "number") return { ac: written, re: written + 1 };
  const other = written === "up" ? "down" : "up";
  return planAlong(severity, row, column, written) === null ? other : written;
}

/** The next row with a plan in the arrow's direction; null where the table ends before. */
export function planAlong(severity: Severity, row: number, column: number, arrow: "up" | "down"): number | null {
  const last = severity === "tightened" && column === 2 ? 16 : 15;
  for (let at = row + (arrow === "up" ? -1 : 1); at >= 0 && at <= last; at += arrow === "up" ? -1 : 1)
    if (typeof writtenStep(severity, at, column) === "number") return at;
  return null;
}

function writtenStep(severity: Severity, row: number, column: number): Step {
  if (severity === "reduced" && row < 2 && column >= COLUMN_25) return REDUCED_SMALLEST[column - COLUMN_25]!;
  if (severity === "normal" && row === 0 && column === COLUMN_25 - 2) return "down";
  const { from, steps } = DIAGONALS[severity];
  const place = row + column - from;
  const step = place < 0 ? "down" : (steps[place] ?? "up");
  // Nothing of a sample of two stands above the table, whatever the diagonal says.
  if (severity === "tightened" && row === 0 && step === 0) return "down";
  if (typeof step === "number" && row >= ROW_F && step > LARGEST_BELOW_E[severity]) return "up";
  return step;
}

/** Sample size of a row. */
export function sizeOfRow(severity: Severity, row: number): number {
  return (severity === "reduced" ? REDUCED_SIZES : SIZES)[row]!;
}

/**
 * Sample size code letter.
 * @param lot - items in the lot, integer >= 2
 * @returns letter A to R
 * @throws CoreError out-of-range for another lot
 * Source: ISO 2859-1:1999 table 1
 */
export function codeLetter(lot: number, level: InspectionLevel): string {
  requireLot("codeLetter", lot);
  const row = LETTER_ROWS.find(([most]) => lot <= most)!;
  return row[1][INSPECTION_LEVELS.indexOf(level)]!;
}

export function requireLot(name: string, lot: number): void {
  if (!Number.isSafeInteger(lot) || lot < 2)
    throw new CoreError("out-of-range", `${name}: lot must be a whole number of at least 2; got ${lot}`);
}
