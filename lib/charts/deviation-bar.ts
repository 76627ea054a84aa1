import {
  formatDeviationUm,
  formatFixed,
  formatSigned,
  formatValue,
  type DecimalSign,
  type ShownUnit,
} from "@/lib/format/number-text";
import { labelWidth } from "./label-box";

export type DeviationBarInput = {
  readonly lower: number | null;
  readonly upper: number | null;
  /** Where zero deviation is; the middle of the limits, or 0 for a one-sided limit, when null. */
  readonly target: number | null;
  readonly unit: ShownUnit;
  /** Half width of the zone in which neither is proven, in the unit of the limits; 0 for simple acceptance. */
  readonly guard: number;
  readonly value: number | null;
  /** Readings kept before, as grey rings. */
  readonly kept: readonly number[];
  readonly widthPx: number;
  readonly decimal?: DecimalSign;
};

export type DeviationBarLimit = {
  readonly x: number;
  readonly valueText: string;
  readonly deviationText: string;
  readonly fits: boolean;
};

export type DeviationBar = {
  readonly ticks: readonly { readonly x: number; readonly long: boolean }[];
  readonly limits: readonly DeviationBarLimit[];
  readonly zones: readonly { readonly x: number; readonly width: number }[];
  readonly target: { readonly x: number; readonly text: string } | null;
  readonly rings: readonly number[];
  readonly value: { readonly x: number; readonly beyond: "left" | "right" | null } | null;
  /** Where the word for the hatched zones fits; null where it would run into the limits' labels. */
  readonly zoneWordX: number | null;
};

/** How far the bar reaches beyond a limit, as a share of half the tolerance. */
const OVERHANG = 0.68;
const STEPS = [1, 2, 5] as const;

function scaleOf({ lower, upper, target, guard }: DeviationBarInput): { from: number; to: number; zero: number } {
  if (lower !== null && upper !== null) {
    const half = (upper - lower) / 2;
    const over = Math.max(half * OVERHANG, guard * 1.3);
    return { from: lower - over, to: upper + over, zero: target ?? (lower + upper) / 2 };
  }
  const limit = upper ?? lower ?? 1;
  const reach = Math.max(Math.abs(limit), guard * 2) || 1;
  return upper !== null
    ? { from: Math.min(0, limit), to: limit + reach * 0.5, zero: target ?? 0 }
    : { from: limit - reach * 0.5, to: limit + reach, zero: target ?? limit };
}

function tickStep(span: number): number {
  for (let decade = 1e-6; decade < 1e7; decade *= 10) {
    for (const step of STEPS) if (span / (step * decade) <= 20) return step * decade;
  }
  return span;
}

function deviationText(value: number, zero: number, unit: ShownUnit, decimal: DecimalSign | undefined): string {
  if (unit === "mm") return formatDeviationUm((value - zero) * 1000, 0, decimal);
  return unit === "arcmin"
    ? `${formatSigned(value - zero, 1, decimal)}\u2032`
    : formatDeviationUm(value - zero, 0, decimal);
}

/** The bar on which a reading is judged: limits, zones in which neither is proven, kept readings, and the pointer. */
export function layoutDeviationBar(input: DeviationBarInput): DeviationBar {
  const { lower, upper, unit, guard, value, kept, widthPx, decimal } = input;
  const { from, to, zero } = scaleOf(input);
  const xOf = (at: number) => ((at - from) / (to - from)) * widthPx;
  const inside = (x: number) => Math.min(widthPx - 6, Math.max(6, x));
  const step = tickStep(to - from);
  const first = Math.ceil((from - zero) / step);
  const last = Math.floor((to - zero) / step);
  const given = [lower, upper].filter((limit) => limit !== null);
  const twoSided = given.length === 2;
  const limits = given.map((limit) => ({
    x: xOf(limit),
    valueText: unit === "mm" ? formatFixed(limit, 3, decimal) : formatValue(limit, unit, { decimal }),
    deviationText: deviationText(limit, zero, unit, decimal),
    fits: twoSided,
  }));
  const middle = widthPx / 2;
  const inner = twoSided ? xOf(given[1] ?? to) - xOf(given[0] ?? from) : 0;
  const word = labelWidth("hatched: not proven", 16) + labelWidth("+25 µm", 16) + 12;
  const x = value === null ? 0 : xOf(value);
  return {
    ticks: Array.from({ length: Math.max(0, last - first + 1) }, (_, index) => ({
      x: xOf(zero + (first + index) * step),
      long: (first + index) % 2 === 0,
    })),
    limits,
    zones:
      guard > 0
        ? given.map((limit) => ({ x: xOf(limit - guard), width: xOf(limit + guard) - xOf(limit - guard) }))
        : [],
    target: twoSided
      ? { x: xOf(zero), text: unit === "mm" ? formatFixed(zero, 3, decimal) : formatValue(zero, unit, { decimal }) }
      : null,
    rings: kept.map((each) => inside(xOf(each))),
    value: value === null ? null : { x: inside(x), beyond: x < 0 ? "left" : x > widthPx ? "right" : null },
    zoneWordX: guard > 0 && inner > word ? middle : null,
  };
}
