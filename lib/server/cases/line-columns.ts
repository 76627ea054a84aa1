import "server-only";
import type { FeatureName } from "@/lib/core/metrology/features";
import type { LineColumns } from "@/lib/quality/alarm/run-line";
import type { WatchGrounds } from "./watch-grounds";
import { featureOf, guardedBy, isFailing, isOutside, type WatchedRow } from "./watched-frames";

/**
 * Frames of a group as the columns that baselines are made of.
 *
 * @param ages - frames that the tool had cut at each row
 */
export function lineColumnsOf(
  rows: readonly WatchedRow[],
  ages: readonly number[],
  { drawing, boreReadings }: Pick<WatchGrounds, "drawing" | "boreReadings">,
): LineColumns {
  const made = new Map<FeatureName, readonly number[]>();
  return {
    frames: rows.length,
    boreReadings,
    guarded: guardedBy(drawing),
    column(feature) {
      const column = made.get(feature) ?? rows.map((row) => featureOf(row, feature) ?? Number.NaN);
      made.set(feature, column);
      return column;
    },
    isFailing: (place, stream) => rows[place] !== undefined && isFailing(rows[place], stream),
    isOutside: (place, stream) => rows[place] !== undefined && isOutside(rows[place], stream),
    toolAge: (place) => ages[place] ?? place + 1,
  };
}
