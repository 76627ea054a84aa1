import { CoreError } from "../../errors";
import { studentTQuantile, studentTSf } from "../../distributions/student-t";
import { sampleMean, sampleSd } from "../../numerics/descriptive-statistics";

/** One group: its values in cells, as frames in shifts. What cells differ by is of the group, what values differ by is not. */
export type ComparedGroup = Readonly<{ name: string; cells: readonly (readonly number[])[] }>;

export type GroupMean = Readonly<{
  name: string;
  cells: number;
  count: number;
  /** Mean of the means of its cells, and what the data say of it; null with one cell, of which nobody knows how others would lie. */
  mean: number;
  interval: readonly [number, number] | null;
  /** Standard deviation within a cell; null where no cell has two values. */
  sd: number | null;
  /** Its mean less that of all others, and the chance of one so large where they are alike; null where that cannot be said. */
  difference: number | null;
  pValue: number | null;
}>;

/** Two-sided chance by Welch's t of two samples; null where either has no spread to judge by. */
function welch(a: readonly number[], b: readonly number[]): number | null {
  if (a.length < 2 || b.length < 2) return null;
  const [va, vb] = [sampleSd(a) ** 2 / a.length, sampleSd(b) ** 2 / b.length];
  if (!(va + vb > 0)) return null;
  const t = (sampleMean(a) - sampleMean(b)) / Math.sqrt(va + vb);
  const df = (va + vb) ** 2 / (va ** 2 / (a.length - 1) + vb ** 2 / (b.length - 1));
  return Math.min(1, 2 * studentTSf(Math.abs(t), df));
}

/**
 * Groups side by side: the mean of each with what the data can bear, and whether it lies apart from the others.
 * Formula: mean of the cell means m_j, interval -/+ t(b - 1) s(m) / sqrt(b) over b cells; p by Welch's t of its cell means against
 *   those of all others, times the number of groups (Bonferroni), which is one where there are two groups
 *
 * @param groups - at least 1, each with a cell, each cell with a value, all finite
 * @param confidence - of the intervals, in (0, 1)
 * @returns one a group, in the order given
 * @throws CoreError too-few-values, not-finite
 * Edge cases: one group or one cell -> no difference is said; cells that do not differ at all -> interval of no width
 * Source: Welch 1947, Biometrika 34 28-35; NIST/SEMATECH e-Handbook 7.3.1; cells as units: common practice against pseudo-replication
 */
export function compareGroups(groups: readonly ComparedGroup[], confidence = 0.95): readonly GroupMean[] {
  if (groups.length === 0) throw new CoreError("too-few-values", "compareGroups: groups must be at least 1; got 0");
  if (groups.some(({ cells }) => cells.length === 0))
    throw new CoreError("too-few-values", "compareGroups: every group must have a cell; got 0");
  const means = groups.map(({ cells }) => cells.map((cell) => sampleMean(cell)));
  const times = groups.length > 2 ? groups.length : 1;
  return groups.map(({ name, cells }, at): GroupMean => {
    const own = means[at] ?? [];
    const others = means.filter((_, place) => place !== at).flat();
    const mean = sampleMean(own);
    const half =
      own.length < 2
        ? null
        : (studentTQuantile((1 + confidence) / 2, own.length - 1) * sampleSd(own)) / Math.sqrt(own.length);
    let [squares, degrees] = [0, 0];
    cells.forEach((cell, place) => {
      for (const value of cell) squares += (value - (own[place] ?? 0)) ** 2;
      degrees += cell.length - 1;
    });
    const chance = others.length === 0 ? null : welch(own, others);
    return {
      name,
      cells: cells.length,
      count: cells.reduce((sum, cell) => sum + cell.length, 0),
      mean,
      interval: half === null ? null : [mean - half, mean + half],
      sd: degrees === 0 ? null : Math.sqrt(squares / degrees),
      difference: others.length === 0 ? null : mean - sampleMean(others),
      pValue: chance === null ? null : Math.min(1, chance * times),
    };
  });
}
