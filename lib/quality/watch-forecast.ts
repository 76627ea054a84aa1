import { type FramesLeft, toolLife } from "../core/control/tool-life/tool-life";
import type { Estimate } from "../core/errors";

/** Newest frames of a stream that its tool is watched by: a straight line through more of them says no more. A choice, no source. */
export const WATCHED_FRAMES = 200;
/** A forecast further away than so many working days concerns nobody yet. A choice, no source. */
const WATCHED_DAYS = 20;

export type WatchForecast = Pick<FramesLeft, "estimate" | "interval" | "limit" | "limitValue"> & {
  /** Label of the tool in use. */
  readonly tool: string;
  /** Size on the line of this tool at the newest frame, and its change from frame to frame. */
  readonly now: number;
  readonly slope: number;
};

type Given = {
  readonly values: readonly number[];
  /** Tool of each frame; null where it is not known. */
  readonly tools: readonly (string | null)[];
  /** Limits narrowed by the uncertainty, in the values' unit. */
  readonly limits: { readonly lower: number | null; readonly upper: number | null };
  readonly framesADay: number;
  /** Whether the tool was changed after the newest frame. */
  readonly isChanged: boolean;
};

/** Frames until the line of a tool meets the limit, and the same where the tool in use wears it there within the next weeks. */
export type WatchedTool = {
  /** Null where there are no frames, or the tool that made them is not in use any more. */
  readonly life: Estimate<FramesLeft> | null;
  readonly forecast: WatchForecast | null;
};

/** What the tool in use does to a size. */
export function watchTool({ values, tools, limits, framesADay, isChanged }: Given): WatchedTool {
  if (isChanged || values.length === 0) return { life: null, forecast: null };
  const tool = tools.at(-1) ?? null;
  const toolChanges = tools.flatMap((one, at) => (at > 0 && one !== null && one !== tools[at - 1] ? [at] : []));
  const { tools: stretches, framesLeft: life } = toolLife({ values, toolChanges, limits });
  const trend = stretches.at(-1)?.trend;
  if (tool === null || !life.ok || trend?.ok !== true || !trend.value.drifts) return { life, forecast: null };
  const { estimate, interval, limit, limitValue } = life.value;
  if (interval[1] === null || interval[0] > WATCHED_DAYS * framesADay) return { life, forecast: null };
  const { now, slope } = trend.value;
  return { life, forecast: { tool, now, slope, estimate, interval, limit, limitValue } };
}

/**
 * Whether the tool in use wears a size towards its limit within the next weeks.
 *
 * @returns null where there is no trend, the limit is far, or the tool that made the frames is not in use any more
 */
export function watchForecast(given: Given): WatchForecast | null {
  return watchTool(given).forecast;
}
