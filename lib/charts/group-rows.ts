import { niceTicks } from "./axis-ticks";
import { px } from "./clock-face";

/** Grid of one row; it is stretched to the room there is, dots and lines keep their size. */
export const GROUP_ROW = { width: 1000, height: 34 } as const;
/** Dots stand in so many lanes, so that equal means do not hide each other. */
const LANES = 4;

export type GroupRowInput = {
  readonly mean: number;
  readonly interval: readonly [number, number] | null;
  readonly cells: readonly { readonly mean: number; readonly isOutlying: boolean }[];
};

export type GroupRow = {
  readonly dots: string;
  readonly outlying: string;
  readonly mean: string;
  /** What the data say of the mean; nothing where they say nothing. */
  readonly interval: string;
};

export type GroupRows = {
  readonly rows: readonly GroupRow[];
  /** Places along the row, percent of its width. */
  readonly ticks: readonly { readonly at: number; readonly value: number }[];
};

/** Groups under each other at one scale: a dot a cell, the mean of each and its interval. */
export function layoutGroupRows(groups: readonly GroupRowInput[]): GroupRows {
  const values = groups.flatMap(({ cells, mean }) => [mean, ...cells.map((cell) => cell.mean)]);
  const [least, most] = [Math.min(...values), Math.max(...values)];
  const room = (most - least || Math.abs(most) || 1) * 0.04;
  const [low, high] = [least - room, most + room];
  const x = (value: number) => Math.max(0, Math.min(GROUP_ROW.width, ((value - low) / (high - low)) * GROUP_ROW.width));
  const middle = GROUP_ROW.height / 2;
  const lane = (at: number) => middle + ((at % LANES) - (LANES - 1) / 2) * 5;
  const dots = (cells: readonly { readonly mean: number; readonly at: number }[]) =>
    cells.map(({ mean, at }) => `M${px(x(mean))} ${px(lane(at))}h0`).join("");
  return {
    rows: groups.map(({ mean, interval, cells }) => {
      const placed = cells.map((cell, at) => ({ ...cell, at }));
      return {
        dots: dots(placed.filter(({ isOutlying }) => !isOutlying)),
        outlying: dots(placed.filter(({ isOutlying }) => isOutlying)),
        mean: `M${px(x(mean))} 3V${GROUP_ROW.height - 3}`,
        interval: interval === null ? "" : `M${px(x(interval[0]))} ${middle}H${px(x(interval[1]))}`,
      };
    }),
    ticks: niceTicks(low, high, 5)
      .filter((value) => value >= low && value <= high)
      .map((value) => ({ value, at: (x(value) / GROUP_ROW.width) * 100 })),
  };
}
