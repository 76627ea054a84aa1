import type { DecisionRule } from "../core/metrology/shell-drawing";
import type { Verdict } from "./verdict-words";

/** Limits of one characteristic with the guard band already chosen; all in one unit. */
export type GuardedLimits = {
  readonly lower: number | null;
  readonly upper: number | null;
  /** Width w of the guard band at each limit, >= 0. */
  readonly guard: number;
};

/**
 * Share of the largest number in a comparison within which two numbers count as equal. Decimal limits and readings such as
 * 40.9559 and 40.950 + 0.0059 differ by some 1e-16 of their size in binary, sums of readings by somewhat more; a gauge
 * resolves no better than 1e-6 of a bore.
 */
export const EQUALITY_SHARE = 1e-12;

/** a >= b, with equality in decimal counted as such. */
function atLeast(a: number, b: number, scale: number): boolean {
  return a - b >= -EQUALITY_SHARE * scale;
}

/** Guard band of a decision rule for an expanded uncertainty U (k = 2): U; 1.65 u_c = 0.825 U; or none. */
export function guardBand(rule: DecisionRule, uncertainty: number): number {
  if (rule === "simple") return 0;
  return rule === "guard-1.65uc" ? (1.65 / 2) * uncertainty : uncertainty;
}

/**
 * Conformity of a value by ISO 14253-1: conforms inside the limits reduced by the guard band, does not conform outside the
 * limits widened by it, else not proven. A missing limit is not guarded. A value exactly at the edge of a zone conforms,
 * or is not proven not to.
 *
 * @param value - finite, in the unit of the limits
 * Source: ISO 14253-1 (from memory); tests/reference/geometry.json, case 46H7.
 */
export function conformity(value: number, { lower, upper, guard }: GuardedLimits): Verdict {
  const scale = Math.max(Math.abs(value), Math.abs(lower ?? 0), Math.abs(upper ?? 0), guard);
  const insideLower = lower === null || atLeast(value, lower + guard, scale);
  const insideUpper = upper === null || atLeast(upper - guard, value, scale);
  if (insideLower && insideUpper) return "conforms";
  const outsideLower = lower !== null && !atLeast(value, lower - guard, scale);
  const outsideUpper = upper !== null && !atLeast(upper + guard, value, scale);
  return outsideLower || outsideUpper ? "does not conform" : "not proven";
}

/** Distance to the nearest limit, positive inside, negative beyond it; Infinity without limits. */
export function marginToLimits(value: number, lower: number | null, upper: number | null): number {
  return Math.min(lower === null ? Infinity : value - lower, upper === null ? Infinity : upper - value);
}
