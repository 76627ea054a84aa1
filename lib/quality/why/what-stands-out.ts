import type { FeatureName } from "../../core/metrology/features";
import { outlyingShifts, shiftMeans, whyMeans, type WhyFactor, type WhyFrame } from "./why-reading";

/** One stream with its frames, and which line, operation and drawing it is of. */
export type WhyStream = {
  readonly id: string;
  readonly group: string;
  readonly feature: FeatureName;
  readonly frames: readonly WhyFrame[];
};

/** A shift that does not belong to the others, with the streams in which it does not. */
export type OutlyingShift = {
  readonly group: string;
  readonly shiftAt: number;
  /** The stream in which it lies furthest out first. */
  readonly streams: readonly {
    readonly id: string;
    readonly feature: FeatureName;
    readonly mean: number;
    readonly usual: number;
  }[];
  /** What its frames were made and measured with; of several the commonest. */
  readonly labels: WhyFrame["labels"];
};

/** A group of frames whose mean lies apart from the others of its stream. */
export type DifferingGroup = {
  readonly stream: Pick<WhyStream, "id" | "group" | "feature">;
  readonly factor: WhyFactor;
  readonly name: string;
  readonly difference: number;
  readonly pValue: number;
};

export type WhatStandsOut = {
  readonly shifts: readonly OutlyingShift[];
  readonly groups: readonly DifferingGroup[];
};

/** Factors that are compared for all streams at once; the rest are asked for one by one. */
const COMPARED: readonly WhyFactor[] = ["inspector", "gauge", "fixture", "mould", "supplier"];
const DIFFERS = 0.05;

function medianOf(values: readonly number[]): number {
  const sorted = values.toSorted((a, b) => a - b);
  const half = Math.floor(sorted.length / 2);
  return sorted.length % 2 === 1 ? (sorted[half] ?? 0) : ((sorted[half - 1] ?? 0) + (sorted[half] ?? 0)) / 2;
}

function commonLabels(frames: readonly WhyFrame[]): WhyFrame["labels"] {
  const labels: Partial<Record<WhyFactor, string>> = {};
  for (const factor of ["inspector", "gauge", "tool", "fixture", "mould", "supplier"] as const) {
    const counts = new Map<string, number>();
    for (const { labels: own } of frames) {
      const name = own[factor];
      if (name !== undefined) counts.set(name, (counts.get(name) ?? 0) + 1);
    }
    const most = [...counts].toSorted((a, b) => b[1] - a[1])[0];
    if (most !== undefined) labels[factor] = most[0];
  }
  return labels;
}

/** Shifts of all streams that stand out, those in most streams first; the chance of a false one is shared by the streams. */
function shiftsOut(streams: readonly WhyStream[]): OutlyingShift[] {
  const found = new Map<string, OutlyingShift & { readonly furthest: number }>();
  for (const { id, group, feature, frames } of streams) {
    const shifts = shiftMeans(frames);
    const usual = medianOf(shifts.map(({ mean }) => mean));
    const sizes = shifts.map(({ mean }) => Math.abs(mean - usual));
    const scale = medianOf(sizes) || 1;
    for (const at of outlyingShifts(
      shifts.map(({ mean }) => mean),
      streams.length,
    )) {
      const shift = shifts[at];
      if (shift === undefined) continue;
      const { shiftAt, mean } = shift;
      const key = `${group}\n${shiftAt}`;
      const distance = (sizes[at] ?? 0) / scale;
      const before = found.get(key);
      const own = { id, feature, mean, usual };
      const isFurther = distance > (before?.furthest ?? 0);
      found.set(key, {
        group,
        shiftAt,
        streams: isFurther ? [own, ...(before?.streams ?? [])] : [...(before?.streams ?? []), own],
        labels: before?.labels ?? commonLabels(frames.filter((frame) => frame.shiftAt === shiftAt)),
        furthest: Math.max(distance, before?.furthest ?? 0),
      });
    }
  }
  return [...found.values()]
    .toSorted((a, b) => b.streams.length - a.streams.length || b.furthest - a.furthest)
    .map(({ furthest: _, ...shift }) => shift);
}

function groupsOut(streams: readonly WhyStream[]): DifferingGroup[] {
  const found: DifferingGroup[] = [];
  let compared = 0;
  for (const { id, group, feature, frames } of streams)
    for (const factor of COMPARED) {
      const groups = whyMeans(frames, factor);
      if (groups.length < 2) continue;
      compared += 1;
      // Of two alone nobody can say which one is the other's.
      const told = groups.length === 2 ? groups.slice(0, 1) : groups;
      for (const { name, difference, pValue } of told)
        if (pValue !== null && difference !== null)
          found.push({ stream: { id, group, feature }, factor, name, difference, pValue });
    }
  return found
    .map((one) => ({ ...one, pValue: Math.min(1, one.pValue * compared) }))
    .filter(({ pValue }) => pValue < DIFFERS)
    .toSorted((a, b) => a.pValue - b.pValue);
}

/** What differs in a plant: shifts that stand out, and groups of frames that lie apart. */
export function whatStandsOut(streams: readonly WhyStream[]): WhatStandsOut {
  return { shifts: shiftsOut(streams), groups: groupsOut(streams) };
}
