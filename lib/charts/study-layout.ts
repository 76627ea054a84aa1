import type { CrossedLayout } from "@/lib/core/gauge-studies/crossed-layout";
import { niceTicks } from "./axis-ticks";

/** Measures of the drawing, px of its own grid. */
const WIDTH = 820;
const LEFT = 120;
const RIGHT = 92;
const ROW = 96;
const TOP = 34;
const FOOT = 8;
/** Serials wider than a column are left out of the head; every one stands in the table. */
const CHARACTER = 7;

export type StudyPoint = { readonly x: number; readonly y: number };
export type StudyRow = {
  readonly inspector: string;
  readonly top: number;
  readonly bottom: number;
  /** Where deviations are 0, and where the inspector's mean lies. */
  readonly zeroY: number;
  readonly meanY: number;
  readonly mean: number;
  readonly ticks: readonly { readonly y: number; readonly value: number }[];
  readonly points: readonly StudyPoint[];
  /** Mean of the readings of each part. */
  readonly cells: readonly { readonly x1: number; readonly x2: number; readonly y: number }[];
};

export type StudyLayout = {
  readonly width: number;
  readonly height: number;
  readonly left: number;
  readonly right: number;
  readonly columns: readonly { readonly x: number; readonly part: string; readonly isNamed: boolean }[];
  readonly rows: readonly StudyRow[];
};

const meanOf = (values: readonly number[]) => values.reduce((sum, each) => sum + each, 0) / values.length;

/**
 * The readings of a study as a picture: one row an inspector, parts from small to large, each reading less the mean of its part.
 *
 * @param layout - a complete study
 * @param scale - from its unit to that of the picture, as 1000 from mm to µm
 */
export function studyLayout({ parts, inspectors, trials, values }: CrossedLayout, scale: number): StudyLayout {
  const [p, o, r] = [parts.length, inspectors.length, trials.length];
  const readingsOf = (part: number) => values.slice(part * o * r, (part + 1) * o * r);
  const partMeans = parts.map((_, part) => meanOf(readingsOf(part)));
  const order = parts.map((_, part) => part).sort((a, b) => (partMeans[a] ?? 0) - (partMeans[b] ?? 0));
  const deviation = (part: number, inspector: number, trial: number) =>
    ((values[(part * o + inspector) * r + trial] ?? 0) - (partMeans[part] ?? 0)) * scale;
  const all = order.flatMap((part) =>
    inspectors.flatMap((_, inspector) => trials.map((__, trial) => deviation(part, inspector, trial))),
  );
  const most = Math.max(...all.map(Math.abs)) * 1.1 || 1;
  const column = (WIDTH - LEFT - RIGHT) / p;
  const longest = Math.max(...parts.map((part) => part.length)) * CHARACTER;
  const everyNamed = Math.max(1, Math.ceil(longest / column));
  const rows = inspectors.map((inspector, at): StudyRow => {
    const top = TOP + at * ROW;
    const middle = top + (ROW - FOOT) / 2;
    const y = (value: number) => middle - (value / most) * ((ROW - FOOT) / 2);
    const cells = order.map((part, place) => {
      const own = trials.map((_, trial) => deviation(part, at, trial));
      const x = LEFT + (place + 0.5) * column;
      return { x, own, mean: meanOf(own) };
    });
    const mean = meanOf(cells.map((cell) => cell.mean));
    return {
      inspector,
      top,
      bottom: top + ROW - FOOT,
      zeroY: middle,
      meanY: y(mean),
      mean,
      ticks: niceTicks(-most, most, 4).map((value) => ({ y: y(value), value })),
      points: cells.flatMap(({ x, own }) =>
        own.map((value, trial) => ({ x: x + (trial - (r - 1) / 2) * Math.min(9, (column * 0.6) / r), y: y(value) })),
      ),
      cells: cells.map((cell) => ({ x1: cell.x - column * 0.28, x2: cell.x + column * 0.28, y: y(cell.mean) })),
    };
  });
  return {
    width: WIDTH,
    height: TOP + o * ROW,
    left: LEFT,
    right: WIDTH - RIGHT,
    columns: order.map((part, place) => ({
      x: LEFT + (place + 0.5) * column,
      part: parts[part] ?? "",
      isNamed: place % everyNamed === 0,
    })),
    rows,
  };
}
