import { sampleMean } from "../../core/numerics/descriptive-statistics";

/** One frame as its shift is compared with the next one. */
export type ShiftFrame = Readonly<{ value: number; shift: string; tool: string | null }>;

/** What a stream ordinarily differs by from shift to shift, in its unit, and the shifts that say so. */
export type ShiftSpread = Readonly<{ sd: number; shifts: number }>;

/** Shifts without which nothing is learnt. */
export const LEAST_SHIFTS = 20;
/** Frames without which the mean of a shift says little. A choice, no source. */
const LEAST_FRAMES = 5;

type Level = Readonly<{ mean: number; count: number; tool: string | null; squares: number }>;

/**
 * Standard deviation of the levels of shifts about one another: zero, ring and temperature, without what frames scatter by.
 * Formula: var = mean over neighbouring shifts of (d^2 - s^2 (1 / n1 + 1 / n2)) / 2, d the difference of their means, s^2 the pooled
 *   variance within shifts; 0 where it is negative.
 *
 * @param frames - of the stream, in the order of measuring, without those of a case
 * @returns null with fewer than 20 shifts of at least 5 frames that have a neighbour cut by the same tool
 * Method: differences of neighbours instead of the variance of all shifts, so that slow wear and a level that once moved are not taken
 *   for what every shift differs by; neighbours with another tool are left out
 * Source: von Neumann, Kent, Bellinson and Hart 1941, Annals of Mathematical Statistics 12 153-162 (mean square successive difference)
 */
export function shiftSpread(frames: readonly ShiftFrame[]): ShiftSpread | null {
  const levels = levelsOf(frames);
  const pairs = levels.slice(1).flatMap((later, at) => {
    const earlier = levels[at];
    return earlier === undefined || earlier.tool !== later.tool ? [] : [[earlier, later] as const];
  });
  const shifts = new Set(pairs.flat()).size;
  if (shifts < LEAST_SHIFTS) return null;
  const degrees = levels.reduce((sum, { count }) => sum + count - 1, 0);
  const within = levels.reduce((sum, { squares }) => sum + squares, 0) / degrees;
  const between = sampleMean(
    pairs.map(([a, b]) => ((b.mean - a.mean) ** 2 - within * (1 / a.count + 1 / b.count)) / 2),
  );
  return { sd: Math.sqrt(Math.max(0, between)), shifts };
}

/** Levels of the shifts that have enough frames; one in which the tool was changed is two. */
function levelsOf(frames: readonly ShiftFrame[]): Level[] {
  const groups: { key: string; tool: string | null; values: number[] }[] = [];
  for (const { value, shift, tool } of frames) {
    const key = `${shift} ${tool ?? ""}`;
    const last = groups.at(-1);
    if (last?.key === key) last.values.push(value);
    else groups.push({ key, tool, values: [value] });
  }
  return groups
    .filter(({ values }) => values.length >= LEAST_FRAMES)
    .map(({ tool, values }) => {
      const mean = sampleMean(values);
      const squares = values.reduce((sum, value) => sum + (value - mean) ** 2, 0);
      return { mean, count: values.length, tool, squares };
    });
}
