import { CoreError } from "../errors";

export const CLEARANCE_CLASSES = ["C2", "CN", "C3", "C4"] as const;

export type ClearanceClass = (typeof CLEARANCE_CLASSES)[number];

/** Over the first, up to and including the second bore, mm; then C2, CN, C3, C4 in µm. */
const CLEARANCE_TABLE = [
  { over: 18, upTo: 24, C2: [0, 10], CN: [5, 20], C3: [13, 28], C4: [20, 36] },
  { over: 24, upTo: 30, C2: [1, 11], CN: [5, 20], C3: [13, 28], C4: [23, 41] },
  { over: 30, upTo: 40, C2: [1, 11], CN: [6, 20], C3: [15, 33], C4: [28, 46] },
] as const;

/**
 * Radial internal clearance of a deep groove ball bearing before mounting.
 *
 * @param boreMm - bearing bore, over 18 up to and including 40 mm; a limit belongs to the lower range
 * @param clearanceClass - C2, CN, C3 or C4
 * @returns smallest and largest clearance (full radial play), µm
 * @throws CoreError not-finite; out-of-range; invalid-argument for another class
 * Source: ISO 5753-1:2009, table 1
 */
export function radialClearanceUm(boreMm: number, clearanceClass: ClearanceClass): readonly [min: number, max: number] {
  if (!Number.isFinite(boreMm))
    throw new CoreError("not-finite", `radialClearanceUm: boreMm must be finite; got ${boreMm}`);
  const row = CLEARANCE_TABLE.find(({ over, upTo }) => boreMm > over && boreMm <= upTo);
  if (row === undefined)
    throw new CoreError("out-of-range", `radialClearanceUm: boreMm must be over 18 up to 40 mm; got ${boreMm}`, {
      boreMm,
    });
  if (!CLEARANCE_CLASSES.includes(clearanceClass))
    throw new CoreError(
      "invalid-argument",
      `radialClearanceUm: clearanceClass must be one of ${CLEARANCE_CLASSES.join(", ")}; got ${clearanceClass}`,
    );
  return row[clearanceClass];
}
