import { compareGroups, type GroupMean } from "../../core/control/causes/compare-groups";
import { nestedComponents, type NestedComponents } from "../../core/control/causes/nested-components";
import { outlyingValues } from "../../core/control/causes/outlying-values";
import type { Estimate } from "../../core/errors";
import { sampleMean } from "../../core/numerics/descriptive-statistics";

/** What frames can be told apart by. Gauge: that of the readings which give the stream. */
export const WHY_FACTORS = [
  "inspector",
  "gauge",
  "fixture",
  "mould",
  "tool",
  "supplier",
  "shift",
  "period",
  "line",
] as const;
export type WhyFactor = (typeof WHY_FACTORS)[number];

/** One frame of one stream, with what it was made and measured with. */
export type WhyFrame = {
  readonly serial: string;
  readonly at: number;
  readonly value: number;
  /** Start of its shift, ms since 1970: the first frame after a long pause. */
  readonly shiftAt: number;
  readonly labels: Readonly<Partial<Record<WhyFactor, string>>>;
};

/** The frames of one shift in one group. */
export type WhyCell = {
  readonly shiftAt: number;
  readonly mean: number;
  readonly count: number;
  /** It does not belong to the other shifts. */
  readonly isOutlying: boolean;
};

export type WhyGroup = Omit<GroupMean, "cells"> & {
  readonly cells: readonly WhyCell[];
  /** Its mean lies apart from the others by more than chance. */
  readonly differs: boolean;
};

export type WhyReading = {
  readonly groups: readonly WhyGroup[];
  /** Frames without a label of this kind, which are left out. */
  readonly unlabelled: number;
  /** Null where no frame has such a label. */
  readonly components: Estimate<NestedComponents> | null;
};

/** A chance under this is a difference. Common practice, no source. */
const DIFFERS = 0.05;
/** Chance that shifts that are alike have one that stands out. A choice, no source. */
const STANDS_OUT = 0.01;
/** Fewer shifts say nothing about what is usual. A choice, no source. */
const FEWEST_SHIFTS = 12;
/** Of the shifts at most so many stand out: more would be two kinds of shifts. */
const MOST_OUTLYING = 0.2;

type Cell = { readonly group: string; readonly shiftAt: number; readonly values: number[] };

/** Frames by the label of a factor, and within it by shift; of the shift itself every frame is a cell. */
function cellsOf(frames: readonly WhyFrame[], factor: WhyFactor): Cell[] {
  const cells = new Map<string, Cell>();
  frames.forEach((frame, at) => {
    const group = factor === "shift" ? String(frame.shiftAt) : frame.labels[factor];
    if (group === undefined) return;
    const key = factor === "shift" ? `${at}` : `${group}\n${frame.shiftAt}`;
    const cell = cells.get(key) ?? { group, shiftAt: frame.shiftAt, values: [] };
    cell.values.push(frame.value);
    cells.set(key, cell);
  });
  return [...cells.values()];
}

/**
 * Shifts whose mean does not belong to the others.
 *
 * @param means - one a shift
 * @param among - how many streams are looked at at once: the chance is shared by them
 * @returns indices, the furthest first
 */
export function outlyingShifts(means: readonly number[], among = 1): readonly number[] {
  if (means.length < FEWEST_SHIFTS) return [];
  const { steps, count } = outlyingValues(means, Math.floor(means.length * MOST_OUTLYING), STANDS_OUT / among);
  return steps.slice(0, count).map(({ index }) => index);
}

function byShift(frames: readonly WhyFrame[]): ReadonlyMap<number, readonly number[]> {
  const shifts = new Map<number, number[]>();
  for (const { shiftAt, value } of frames) {
    const values = shifts.get(shiftAt) ?? [];
    values.push(value);
    shifts.set(shiftAt, values);
  }
  return shifts;
}

/** The shifts of frames, in their order, each with its mean. */
export function shiftMeans(
  frames: readonly WhyFrame[],
): readonly { readonly shiftAt: number; readonly mean: number }[] {
  return [...byShift(frames)].map(([shiftAt, values]) => ({ shiftAt, mean: sampleMean(values) }));
}

/** Cells under the labels of a factor, in the order in which these come. */
function groupedCells(
  frames: readonly WhyFrame[],
  factor: WhyFactor,
): readonly { readonly name: string; readonly cells: readonly Cell[] }[] {
  const groups = new Map<string, Cell[]>();
  for (const cell of cellsOf(frames, factor)) {
    const own = groups.get(cell.group) ?? [];
    own.push(cell);
    groups.set(cell.group, own);
  }
  return [...groups].map(([name, cells]) => ({ name, cells }));
}

/** Means of the groups of a factor with what the data bear, without their shifts one by one. */
export function whyMeans(frames: readonly WhyFrame[], factor: WhyFactor): readonly GroupMean[] {
  const grouped = groupedCells(frames, factor);
  if (grouped.length === 0) return [];
  return compareGroups(grouped.map(({ name, cells }) => ({ name, cells: cells.map(({ values }) => values) })));
}

/**
 * What a factor has to do with a stream: its groups side by side, and how much of the variation lies between them, between shifts
 * and within a shift. What shifts differ by is the measure for what groups differ by: frames of one shift are too much alike.
 */
export function readWhy(frames: readonly WhyFrame[], factor: WhyFactor): WhyReading {
  const grouped = groupedCells(frames, factor);
  const all = grouped.flatMap(({ cells }) => cells);
  const unlabelled = frames.length - all.reduce((sum, { values }) => sum + values.length, 0);
  if (grouped.length === 0) return { groups: [], unlabelled, components: null };
  const out = factor === "shift" ? [] : outlyingShifts(all.map(({ values }) => sampleMean(values)));
  const outlying = new Set(out.map((at) => all[at]));
  const groups = whyMeans(frames, factor).map((one, at): WhyGroup => ({
    ...one,
    differs: one.pValue !== null && one.pValue < DIFFERS,
    cells: (grouped[at]?.cells ?? []).map((cell) => ({
      shiftAt: cell.shiftAt,
      mean: sampleMean(cell.values),
      count: cell.values.length,
      isOutlying: outlying.has(cell),
    })),
  }));
  const nested =
    factor === "shift"
      ? [[...byShift(frames).values()]]
      : grouped.map(({ cells }) => cells.map(({ values }) => values));
  return { groups, unlabelled, components: nestedComponents(nested) };
}
