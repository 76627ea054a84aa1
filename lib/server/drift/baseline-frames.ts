import "server-only";
import type pg from "pg";
import type { BaselineCandidate } from "@/lib/quality/baseline";
import { inspectionColumns, notWithdrawn } from "../db/columns/inspection";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";

/** Frames that are looked at for a baseline: who has no 100 good ones among them has no process to set limits for. */
export const BASELINE_SEARCH = 400;

/** What a chart makes a point of, of inspection `i`. */
export const pointColumns = inspectionColumns("i", { id: "id", at: "measuredAt", features: "features" });
export type PointRow = RowOf<typeof pointColumns>;

const judged = inspectionColumns("i", { characteristics: "judgement" });

/** A frame of a group that may be in the baselines of its streams. */
export type BaselineRow = PointRow &
  RowOf<typeof judged> & {
    readonly characteristics: BaselineCandidate["characteristics"];
    /** Streams of which a case with an assigned cause, or an earlier signal with one, holds at this frame. */
    readonly causes: readonly string[];
  };

type Group = { readonly lineId: string; readonly operationId: string; readonly drawingId: string };

/**
 * Reads frames for baselines, oldest first: the first inspection of each frame that was not withdrawn.
 *
 * @param stretch - ends included; null is open
 * @param stretch.end - which of them where there are more than `most`
 */
export async function readBaselineRows(
  db: pg.ClientBase | pg.Pool,
  plantId: string,
  { lineId, operationId, drawingId }: Group,
  stretch: {
    readonly from?: Date | null;
    readonly to?: Date | null;
    readonly end: "first" | "newest";
    readonly most: number;
    /** A case that is the reason for a baseline: its frames are what is usual now. */
    readonly reason?: string | null;
  },
): Promise<BaselineRow[]> {
  const { from = null, to = null, end, most, reason = null } = stretch;
  const order = end === "first" ? sql`i.measured_at, i.id` : sql`i.measured_at desc, i.id desc`;
  const { rows } = await db.query<BaselineRow>(sql`
    with explained as materialized (
      select c.since_at, c.found ->> 'kind' = 'frames' as single,
        coalesce(c.over_at, case when c.state = 'closed' then c.closed_at end, 'infinity') as until,
        array(select st.id::text from stream st where st.plant_id = c.plant_id and st.line_id = c.line_id
          and st.operation_id = c.operation_id and st.drawing_id = c.drawing_id
          and case st.feature when 'ds.tilt' then 'offset' else st.feature end
            in (select split_part(s, ' ', 2) from unnest(c.signals) s)) as streams,
        array(select split_part(s, ' ', 1)::uuid from unnest(c.signals) s) as signalled
      from drift_case c
      where c.plant_id = ${plantId} and c.line_id = ${lineId} and c.operation_id = ${operationId} and c.drawing_id = ${drawingId}
        and c.state <> 'joined' and c.stands and c.cause is not null and (${reason}::uuid is null or c.id <> ${reason})
        and not exists (select from stream_baseline b where b.plant_id = c.plant_id and b.case_id = c.id) and not exists (
          select from case_entry e where e.plant_id = c.plant_id and e.case_id = c.id and e.kind = 'closed'
            and e.data ->> 'hasNewLevel' = 'true'))
    select ${pointColumns}, ${judged}, coalesce(c.streams, '{}') || array(
        select unnest(x.streams) from explained x where i.id = any(x.signalled)
          or not x.single and i.measured_at between x.since_at and x.until) as causes
    from inspection i
    left join (select s.inspection_id, array_agg(s.stream_id::text) as streams from signal s
      where s.plant_id = ${plantId} and s.state = 'assigned' group by s.inspection_id) c on c.inspection_id = i.id
    where i.plant_id = ${plantId} and i.line_id = ${lineId} and i.operation_id = ${operationId}
      and i.drawing_id = ${drawingId} and i.ordinal = 1
      and (${from}::timestamptz is null or i.measured_at >= ${from}) and (${to}::timestamptz is null or i.measured_at <= ${to})
      and ${notWithdrawn}
    order by ${order} limit ${most}`);
  return end === "first" ? rows : rows.reverse();
}

/** Rows that have a value of a stream, as candidates for its baseline. */
export function candidatesFor<Value>(
  rows: readonly BaselineRow[],
  streamId: string,
  valueOf: (features: BaselineRow["features"]) => Value | null,
): (BaselineCandidate & { readonly id: string; readonly at: Date; readonly value: Value })[] {
  return rows.flatMap(({ id, at, features, characteristics, causes }) => {
    const value = valueOf(features);
    return value === null ? [] : [{ id, at, value, characteristics, hasCause: causes.includes(streamId) }];
  });
}
