import { CoreError, type Estimate } from "../../errors";
import { fisherFSf } from "../../distributions/fisher-f";
import { exactSum } from "../../numerics/exact-sum";

/** Analysis of variance of one factor. Squares in unit squared. */
export type OneWayAnova = Readonly<{
  groups: number;
  count: number;
  between: Readonly<{ degrees: number; sumOfSquares: number; meanSquare: number }>;
  within: Readonly<{ degrees: number; sumOfSquares: number; meanSquare: number }>;
  /** Null where nothing varies within the groups. */
  f: number | null;
  pValue: number | null;
  rSquared: number;
  residualSd: number;
  mean: number;
}>;

/**
 * One-way analysis of variance.
 * Formula: SS between = sum n_i (m_i - m)^2, SS within = sum (x_ij - m_i)^2, F = MS between / MS within.
 *
 * @param groups - at least 2 groups of at least 1 value, all finite, more values than groups
 * @returns see OneWayAnova; ok: false with a reason where all values are equal
 * @throws CoreError too-few-values, not-finite
 * Method: the first value is taken from all of them (exact for neighbours, Sterbenz), then two passes with compensated sums
 * Accuracy: the digits stated per set in tests/core/control/causes/one-way-anova.test.ts against the certified values of NIST StRD
 * Source: NIST/SEMATECH e-Handbook 7.4.3
 */
export function oneWayAnova(groups: readonly (readonly number[])[]): Estimate<OneWayAnova> {
  const count = groups.reduce((sum, group) => sum + group.length, 0);
  if (groups.length < 2)
    throw new CoreError("too-few-values", `oneWayAnova: groups must be at least 2; got ${groups.length}`);
  groups.forEach((group, index) => {
    if (group.length === 0)
      throw new CoreError("too-few-values", `oneWayAnova: every group must have a value; got 0 (at index ${index})`);
    for (const value of group)
      if (!Number.isFinite(value))
        throw new CoreError("not-finite", `oneWayAnova: values must be finite; got ${value} (at index ${index})`);
  });
  if (count <= groups.length)
    throw new CoreError(
      "too-few-values",
      `oneWayAnova: values must be more than groups; got ${count} in ${groups.length}`,
    );
  const origin = groups[0]![0]!;
  const shifted = groups.map((group) => group.map((value) => value - origin));
  const means = shifted.map((group) => exactSum(group) / group.length);
  const mean = exactSum(shifted.map((group, index) => means[index]! * group.length)) / count;
  const between = exactSum(shifted.map((group, index) => group.length * (means[index]! - mean) ** 2));
  const within = exactSum(shifted.flatMap((group, index) => group.map((value) => (value - means[index]!) ** 2)));
  if (!(between + within > 0))
    return { ok: false, reason: "All values are equal: there is no variation to take apart." };
  const [betweenDegrees, withinDegrees] = [groups.length - 1, count - groups.length];
  const [betweenSquare, withinSquare] = [between / betweenDegrees, within / withinDegrees];
  const f = withinSquare > 0 ? betweenSquare / withinSquare : null;
  return {
    ok: true,
    warnings: f === null ? ["Nothing varies within the groups."] : [],
    value: {
      groups: groups.length,
      count,
      between: { degrees: betweenDegrees, sumOfSquares: between, meanSquare: betweenSquare },
      within: { degrees: withinDegrees, sumOfSquares: within, meanSquare: withinSquare },
      f,
      pValue: f === null ? null : fisherFSf(f, [betweenDegrees, withinDegrees]),
      rSquared: between / (between + within),
      residualSd: Math.sqrt(withinSquare),
      mean: origin + mean,
    },
  };
}
