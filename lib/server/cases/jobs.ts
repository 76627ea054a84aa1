import "server-only";
import { z } from "zod";
import { getPool } from "../db/client";
import { streamColumns } from "../db/columns/stream";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { ADVANCE, followLine } from "../evidence/case-work";
import { defineJob } from "../jobs/define-job";
import { followLineCases } from "./follow-line";

const lineOfStream = streamColumns("st", ["plantId", "lineId"]);

export const advanceJob = defineJob({
  ...ADVANCE,
  title: "follow the cases of a line",
  deadlineS: 600,
  run: async ({ plantId, lineId }, job) => {
    await followLineCases(plantId, lineId, { signal: job.signal });
  },
});

/**
 * Adds the work that should be there already: a frame that was recorded while the job before it ended, a plant of an older version.
 * Frames that are counted and not yet watched tell it.
 */
export const casesWatchJob = defineJob({
  name: "cases.watch",
  title: "look for lines whose cases were not followed",
  schema: z.strictObject({}),
  everyS: 60,
  // The next minute is the next try.
  tries: 3,
  run: async () => {
    const { rows } = await getPool().query<RowOf<typeof lineOfStream>>(sql`
      select distinct ${lineOfStream}
      from stream st left join alarm_watch w on w.plant_id = st.plant_id and w.line_id = st.line_id
        and w.operation_id = st.operation_id and w.drawing_id = st.drawing_id
      where st.points > 0 and (w.newest_at is null or w.newest_at < st.last_at)`);
    for (const { plantId, lineId } of rows) await followLine(getPool(), plantId, lineId);
  },
});
