import { CoreError } from "../../errors";
import type { CompiledRunRules } from "./compile-run-rules";

/** Limits and zone lines at one point, from the lines given; shared with the incremental form. */
export type PointLines = { upper: number; lower: number; above: Float64Array; below: Float64Array };

/** Room for the lines of a rule set. */
export function pointLinesOf(compiled: CompiledRunRules): PointLines {
  const count = compiled.distances.length;
  return { upper: Infinity, lower: -Infinity, above: new Float64Array(count), below: new Float64Array(count) };
}

/**
 * Sets the lines in force at a point; limits left undefined are centre +- 3 sigma, null is no limit.
 *
 * @throws CoreError out-of-range for a sigma that is not above 0 or limits reversed; invalid-argument where zones need a
 *   sigma that is null
 */
export function setPointLines(
  target: PointLines,
  compiled: CompiledRunRules,
  centre: number,
  sigma: number | null,
  lower: number | null | undefined,
  upper: number | null | undefined,
): void {
  const { distances } = compiled;
  if (!Number.isFinite(centre) || (sigma !== null && !(sigma > 0 && sigma < Infinity))) {
    throw new CoreError("out-of-range", `run rules: centre must be finite and sigma > 0; got ${centre} and ${sigma}`, {
      centre,
      sigma,
    });
  }
  if (sigma === null && distances.some((distance) => distance > 0)) {
    throw new CoreError("invalid-argument", "run rules: sigma must be given for zone tests; got null");
  }
  const spread = sigma ?? 0;
  for (let j = 0; j < distances.length; j++) {
    target.above[j] = centre + distances[j]! * spread;
    target.below[j] = centre - distances[j]! * spread;
  }
  const missing = (side: "lower" | "upper") => {
    if (sigma !== null) return side === "upper" ? centre + 3 * sigma : centre - 3 * sigma;
    throw new CoreError("invalid-argument", `run rules: ${side} must be given (or null) where sigma is null`);
  };
  target.upper = upper === null ? Infinity : (upper ?? missing("upper"));
  target.lower = lower === null ? -Infinity : (lower ?? missing("lower"));
  if (!(target.lower <= target.upper)) {
    throw new CoreError(
      "out-of-range",
      `run rules: lower limit must not be above the upper; got ${target.lower} and ${target.upper}`,
      { lower: target.lower, upper: target.upper },
    );
  }
}

/** Cells of the table that finds a point's zone without comparing it with every line. */
export const CELLS = 2048;
/** Mark of a cell that holds, or touches, a line: the point is compared. */
const UNDECIDED = -1;
export type ZoneCells = Readonly<{ cellBits: Int32Array; origin: number; scale: number }>;
/** Cells are used only while rounding of a value stays far below their width. */
const FINEST_CELL = 2 ** -36;

/** Zone and limit bits of a value by comparison with the lines. */
export function bitsAt(compiled: CompiledRunRules, { above, below, upper, lower }: PointLines, x: number): number {
  const lineCount = above.length;
  let zone = 0;
  while (zone < lineCount && x > above[zone]!) zone++;
  if (zone === 0) {
    while (zone < lineCount && x < below[zone]!) zone++;
    if (zone > 0) zone += lineCount;
  }
  let bits = compiled.zoneBits[zone]!;
  if (x > upper) bits |= compiled.upperLimitBits;
  if (x < lower) bits |= compiled.lowerLimitBits;
  return bits;
}

/** Bits by equal cells over the range of the lines, or null where the lines are too close for it. */
export function zoneCells(compiled: CompiledRunRules, point: PointLines): ZoneCells | null {
  const lines = [...point.above, ...point.below, point.upper, point.lower].filter(Number.isFinite);
  if (lines.length === 0) return null;
  const smallest = Math.min(...lines);
  const largest = Math.max(...lines);
  const margin = largest > smallest ? (largest - smallest) / 64 : Math.max(1, Math.abs(largest));
  const origin = smallest - margin;
  const width = (largest + margin - origin) / CELLS;
  if (!(width > FINEST_CELL * Math.max(Math.abs(smallest), Math.abs(largest)))) return null;
  const cellBits = Int32Array.from({ length: CELLS }, (_, cell) =>
    bitsAt(compiled, point, origin + (cell + 0.5) * width),
  );
  for (const line of lines) {
    const cell = Math.floor((line - origin) / width);
    for (let near = cell - 1; near <= cell + 1; near++) cellBits[near] = UNDECIDED;
  }
  return { cellBits, origin, scale: 1 / width };
}

/** Zone and limit bits of a block by the table of cells; only points near a line are compared. */
export function setBitsByCells(
  bits: Int32Array,
  values: ArrayLike<number>,
  { start, count }: Readonly<{ start: number; count: number }>,
  { cellBits, origin, scale }: ZoneCells,
  compiled: CompiledRunRules,
  point: PointLines,
): void {
  for (let k = 0; k < count; k++) {
    const x = values[start + k]!;
    const place = (x - origin) * scale;
    const found = cellBits[place < 0 ? 0 : place < CELLS ? place | 0 : CELLS - 1]!;
    bits[k] = found === UNDECIDED ? bitsAt(compiled, point, x) : found;
  }
}
