import type { ReadingKind } from "./reading-name";

/**
 * Smallest and largest that a gauge can show: sizes in mm of a gauge for bores or widths, the travel in µm of an indicator, as
 * it stands when it is set. lower < upper.
 */
export type GaugeRange = { readonly lower: number; readonly upper: number };

/** Side of its range on which something lies off the scale of a gauge. */
export type OffScale = "large" | "small";

/** What each kind of reading can be taken with: the principle says which lobes a gauge is blind to. */
export const PRINCIPLES_OF = {
  bore: ["two-point", "three-point"],
  sweep: ["indicator"],
  face: ["indicator"],
  width: ["caliper", "two-point"],
  plug: ["plain plug"],
  bar: ["bar"],
} as const satisfies Record<ReadingKind, readonly string[]>;

/** Shares of a step within which two shown values are the same: takes off the rounding of decimal fractions. */
const SAME_SHARE = 1e-9;

/**
 * Whether a gauge can take a kind of reading at all. A gauge is entered for one kind, and an indicator serves sweeps and faces
 * alike; one for widths measures from outside and takes no bore.
 */
export function takesReading(gauge: { readonly kind: string; readonly principle: string }, kind: ReadingKind): boolean {
  const principles: readonly string[] = PRINCIPLES_OF[kind];
  if (!principles.includes(gauge.principle)) return false;
  return gauge.kind === kind || gauge.principle === "indicator";
}

/** On which side a value lies beyond what a gauge can show, null where it does not or nobody knows its range. */
export function beyondRange(range: GaugeRange | null, value: number): OffScale | null {
  if (range === null) return null;
  const rounding = SAME_SHARE * (range.upper - range.lower);
  if (value > range.upper + rounding) return "large";
  return value < range.lower - rounding ? "small" : null;
}

/**
 * Whether a gauge reaches everything between two limits: one that does not can neither show a good part nor tell on which side
 * of a limit a bad one lies.
 *
 * @param limits - same unit as the range; null where there is no limit on that side
 */
export function reachesLimits(
  range: GaugeRange | null,
  limits: { readonly lower: number | null; readonly upper: number | null },
): boolean {
  const reaches = (limit: number | null): boolean => limit === null || beyondRange(range, limit) === null;
  return reaches(limits.lower) && reaches(limits.upper);
}
