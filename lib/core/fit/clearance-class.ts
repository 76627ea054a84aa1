import { CoreError } from "../errors";

export const CLEARANCE_CLASSES = ["C2", "CN", "C3", "C4", "C5"] as const;

export type ClearanceClass = (typeof CLEARANCE_CLASSES)[number];

/** Over the first, up to and including the second bore, mm; then C2, CN, C3, C4, C5 in µm. */
const CLEARANCE_TABLE = [
  { over: 6, upTo: 10, C2: [0, 7], CN: [2, 13], C3: [8, 23], C4: [14, 29], C5: [20, 37] },
  { over: 10, upTo: 18, C2: [0, 9], CN: [3, 18], C3: [11, 25], C4: [18, 33], C5: [25, 45] },
  { over: 18, upTo: 24, C2: [0, 10], CN: [5, 20], C3: [13, 28], C4: [20, 36], C5: [28, 48] },
  { over: 24, upTo: 30, C2: [1, 11], CN: [5, 20], C3: [13, 28], C4: [23, 41], C5: [30, 53] },
  { over: 30, upTo: 40, C2: [1, 11], CN: [6, 20], C3: [15, 33], C4: [28, 46], C5: [40, 64] },
  { over: 40, upTo: 50, C2: [1, 11], CN: [6, 23], C3: [18, 36], C4: [30, 51], C5: [45, 73] },
  { over: 50, upTo: 65, C2: [1, 15], CN: [8, 28], C3: [23, 43], C4: [38, 61], C5: [55, 90] },
  { over: 65, upTo: 80, C2: [1, 15], CN: [10, 30], C3: [25, 51], C4: [46, 71], C5: [65, 105] },
  { over: 80, upTo: 100, C2: [1, 18], CN: [12, 36], C3: [30, 58], C4: [53, 84], C5: [75, 120] },
] as const;

/**
 * Radial internal clearance of a deep groove ball bearing before mounting.
 *
 * @param boreMm - bearing bore, over 6 up to and including 100 mm; a limit belongs to the lower range
 * @param clearanceClass - C2, CN, C3, C4 or C5
 * @returns smallest and largest clearance (full radial play), µm
 * @throws CoreError not-finite; out-of-range; invalid-argument for another class
 * Source: ISO 5753-1:2009, table 1 (through free secondary tables)
 */
export function radialClearanceUm(boreMm: number, clearanceClass: ClearanceClass): readonly [min: number, max: number] {
  if (!Number.isFinite(boreMm))
    throw new CoreError("not-finite", `radialClearanceUm: boreMm must be finite; got ${boreMm}`);
  const row = CLEARANCE_TABLE.find(({ over, upTo }) => boreMm > over && boreMm <= upTo);
  if (row === undefined)
    throw new CoreError("out-of-range", `radialClearanceUm: boreMm must be over 6 up to 100 mm; got ${boreMm}`, {
      boreMm,
    });
  if (!CLEARANCE_CLASSES.includes(clearanceClass))
    throw new CoreError(
      "invalid-argument",
      `radialClearanceUm: clearanceClass must be one of ${CLEARANCE_CLASSES.join(", ")}; got ${clearanceClass}`,
    );
  return row[clearanceClass];
}
