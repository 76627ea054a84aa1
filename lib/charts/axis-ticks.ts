import { toSignificant } from "../core/numerics/decimal-digits";

export type Tick = { readonly at: number; readonly text: string };

const STEPS = [1, 2, 5, 10] as const;

/** The step of 1, 2 or 5 times a power of ten that gives at most `most` intervals over a span. */
export function niceStep(span: number, most: number): number {
  if (!(span > 0)) return 1;
  const decade = 10 ** Math.floor(Math.log10(span / most));
  return decade * (STEPS.find((step) => span / (step * decade) <= most) ?? 10);
}

/** Values at nice steps inside [min, max], free of binary crumbs. */
export function niceTicks(min: number, max: number, most: number): readonly number[] {
  const step = niceStep(max - min, most);
  const first = Math.ceil(min / step - 1e-9);
  const last = Math.floor(max / step + 1e-9);
  return Array.from({ length: Math.max(0, last - first + 1) }, (_, index) => toSignificant((first + index) * step, 12));
}

/** Decimals that a step needs to be told from the next. */
export function decimalsOfStep(step: number): number {
  return Math.max(0, Math.min(9, -Math.floor(Math.log10(step) + 1e-9)));
}

/** A range that holds all values, with a margin as a share of it; a single value gets a range of its own size. */
export function rangeOf(values: readonly number[], margin: number): { readonly min: number; readonly max: number } {
  let min = Number.POSITIVE_INFINITY;
  let max = Number.NEGATIVE_INFINITY;
  for (const value of values) {
    if (value < min) min = value;
    if (value > max) max = value;
  }
  if (!Number.isFinite(min)) return { min: 0, max: 1 };
  const span = max - min || Math.abs(max) * 0.1 || 1;
  return { min: min - span * margin, max: max + span * margin };
}

/**
 * Moves labels apart along an axis so that none is nearer than `gap` to the next, as little as possible and inside [low, high].
 *
 * @param wanted - wanted positions, any order
 * @returns positions in the same order
 */
export function spreadLabels(wanted: readonly number[], gap: number, low: number, high: number): readonly number[] {
  const order = wanted.map((at, index) => ({ at, index })).sort((a, b) => a.at - b.at);
  const placed: number[] = [];
  for (const { at } of order) placed.push(Math.max(at, low, (placed.at(-1) ?? Number.NEGATIVE_INFINITY) + gap));
  for (let i = placed.length - 1; i >= 0; i -= 1) {
    const ceiling = i === placed.length - 1 ? high : (placed[i + 1] ?? high) - gap;
    placed[i] = Math.min(placed[i] ?? ceiling, ceiling);
  }
  const result = new Array<number>(wanted.length).fill(0);
  order.forEach(({ index }, rank) => {
    result[index] = placed[rank] ?? 0;
  });
  return result;
}

/** Rows for tags of given left edges and widths so that none covers another in its row. */
export function rowsOfTags(
  tags: readonly { readonly left: number; readonly width: number }[],
  gap: number,
): readonly number[] {
  const ends: number[] = [];
  return tags.map(({ left, width }) => {
    const free = ends.findIndex((end) => end + gap <= left);
    const row = free >= 0 ? free : ends.length;
    ends[row] = left + width;
    return row;
  });
}
