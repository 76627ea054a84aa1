import { type FramesLeft, toolLife } from "../core/control/tool-life/tool-life";

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

/**
 * Whether the tool in use wears a size towards its limit within the next weeks.
 *
 * @returns null where there is no trend, the limit is far, or the tool that made the frames is not in use any more
 */
export function watchForecast({ values, tools, limits, framesADay, isChanged }: Given): WatchForecast | null {
  const tool = tools.at(-1) ?? null;
  if (isChanged || tool === null || values.length === 0) return null;
  const toolChanges = tools.flatMap((one, at) => (at > 0 && one !== null && one !== tools[at - 1] ? [at] : []));
  const { tools: stretches, framesLeft } = toolLife({ values, toolChanges, limits });
  const trend = stretches.at(-1)?.trend;
  if (!framesLeft.ok || trend?.ok !== true || !trend.value.drifts) return null;
  const { estimate, interval, limit, limitValue } = framesLeft.value;
  if (interval[1] === null || interval[0] > WATCHED_DAYS * framesADay) return null;
  const { now, slope } = trend.value;
  return { tool, now, slope, estimate, interval, limit, limitValue };
}
