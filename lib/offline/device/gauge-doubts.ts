import type { JudgingDoubt } from "@/lib/quality/judging-doubt";

/** What the device knows against the gauges of an inspection. */
export type GaugeDoubts = {
  readonly doubts: readonly JudgingDoubt[];
  /** Gauges whose calibration had run out: they hold the frame. */
  readonly overdue: readonly string[];
};
