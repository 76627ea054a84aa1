import type { CauseSide } from "../cause-side";
import type { FoundCase } from "../cases/found-case";
import type { GaugeState, GaugeStateReason } from "../gauge-state";

/** What can wait for somebody, the gravest first: frames at customers, then what makes evidence worthless, then what holds frames. */
export const TASK_KINDS = ["escapes", "gauge", "case", "batch", "first-off", "device", "job"] as const;
export type TaskKind = (typeof TASK_KINDS)[number];

/** What a task is about; words for it are in lib/format/today-words.ts. Times are ms since 1970. */
export type TaskAbout =
  | { readonly kind: "escapes"; readonly frames: number; readonly reason: string }
  | {
      readonly kind: "gauge";
      readonly gauge: string;
      readonly station: string | null;
      readonly state: GaugeState;
      readonly reasons: readonly GaugeStateReason[];
    }
  | {
      readonly kind: "case";
      readonly number: number;
      readonly line: string;
      readonly found: FoundCase;
      readonly heldBatches: number;
      /** The change itself is over, or its signals are gone: what is left is to name the cause and close it. */
      readonly isOver: boolean;
      readonly cause: string | null;
    }
  | {
      readonly kind: "batch";
      readonly batch: string;
      readonly supplier: string;
      readonly line: string;
      readonly counts: BatchCounts;
      /** The open case that explains it. */
      readonly caseNumber: number | null;
      /** Whose the cause is, as far as a case has found a probable one. */
      readonly side: CauseSide;
    }
  | {
      readonly kind: "first-off";
      readonly line: string;
      readonly station: string;
      readonly why: string;
      /** The frame that waits for its release; null where it is still to be measured. */
      readonly serial: string | null;
      readonly conforms: boolean;
    }
  | {
      readonly kind: "device";
      readonly device: string;
      readonly station: string | null;
      readonly waiting: number;
      readonly refused: number;
    }
  | { readonly kind: "job"; readonly title: string; readonly failed: number };

export type BatchCounts = {
  readonly frames: number;
  readonly conforms: number;
  readonly notConforming: number;
  readonly notProven: number;
  readonly unmeasured: number;
};

/** One thing that waits. */
export type TodayTask = {
  readonly key: string;
  readonly about: TaskAbout;
  /** Among tasks of its kind the graver comes first: frames outside limits, or that do not conform. */
  readonly gravity: number;
  /** Since when it waits, ms since 1970; null where that is not known. */
  readonly sinceMs: number | null;
  /** Where the next step is done. */
  readonly href: string;
  /** The next step is the viewer's: by name, or because nobody has it and the viewer may do it. */
  readonly isMine: boolean;
  /** Who has it by name; null where it is whoever may. */
  readonly owner: string | null;
};

/** Which kinds come first for a duty; what is not named follows in the order of gravity. */
export type TodayOrder = "process" | "release" | "installation";
const FIRST: Readonly<Record<TodayOrder, readonly TaskKind[]>> = {
  process: ["case", "gauge", "escapes", "first-off", "batch"],
  release: ["escapes", "batch", "case"],
  installation: ["job", "device"],
};

/** A device that keeps readings so long needs somebody: shorter cuts mend themselves (common practice, no source). */
export const QUEUE_PATIENCE_MS = 30 * 60_000;

/**
 * Tasks in the order in which they are done: the viewer's own first, then by kind as the duty asks, then the gravest, then
 * the oldest. One without a known age comes after those with one.
 */
export function inOrder(tasks: readonly TodayTask[], order: TodayOrder): readonly TodayTask[] {
  const ranks = [...new Set([...FIRST[order], ...TASK_KINDS])];
  const rank = ({ about }: TodayTask) => ranks.indexOf(about.kind);
  return tasks.toSorted(
    (a, b) =>
      Number(b.isMine) - Number(a.isMine) ||
      rank(a) - rank(b) ||
      b.gravity - a.gravity ||
      (a.sinceMs ?? Infinity) - (b.sinceMs ?? Infinity) ||
      a.key.localeCompare(b.key),
  );
}

/** Tasks of one kind in a row, as a list shows them: how many there are stands once. */
export type TaskGroup = { readonly kind: TaskKind; readonly isMine: boolean; readonly tasks: readonly TodayTask[] };

/** Neighbours of the same kind together. */
export function inGroups(tasks: readonly TodayTask[]): readonly TaskGroup[] {
  const groups: { kind: TaskKind; isMine: boolean; tasks: TodayTask[] }[] = [];
  for (const task of tasks) {
    const last = groups.at(-1);
    if (last !== undefined && last.kind === task.about.kind && last.isMine === task.isMine) last.tasks.push(task);
    else groups.push({ kind: task.about.kind, isMine: task.isMine, tasks: [task] });
  }
  return groups;
}

/** One frame of a line's day: its verdict and when it was measured, ms since 1970. */
export type DayFrame = { readonly serial: string; readonly verdict: string; readonly atMs: number };

/** Frames of a day by the hour in which they were measured, hours without a frame between them left in. */
export function byHour(
  frames: readonly DayFrame[],
  hourOf: (atMs: number) => number,
): readonly { readonly hour: number; readonly frames: readonly DayFrame[] }[] {
  const hours = frames.map(({ atMs }) => hourOf(atMs));
  if (hours.length === 0) return [];
  const [first, last] = [Math.min(...hours), Math.max(...hours)];
  return Array.from({ length: last - first + 1 }, (_, place) => ({
    hour: first + place,
    frames: frames.filter((_, at) => hours[at] === first + place),
  }));
}
