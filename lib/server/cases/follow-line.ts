import "server-only";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { UNKNOWN_WEAR_SD } from "@/lib/quality/alarm/run-line";
import { getPool } from "../db/client";
import { drawingRevisionColumns } from "../db/columns/drawing-revision";
import { operationColumns } from "../db/columns/operation";
import { streamColumns } from "../db/columns/stream";
import { type RowOf, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { getReferenceData, type ReferenceData } from "../evidence/reference-data";
import { advanceWatch, lockWatch } from "./advance-watch";
import { readSchemes, spreadOverNewStreams } from "./alarm-scheme";
import { followCases } from "./follow-cases";
import { boreReadings, type WatchGrounds } from "./watch-grounds";
import type { FrameGroup } from "./watched-frames";

/** A slice of a long history computes for seconds before it writes. */
const TIMEOUT_MS = 60_000;

/** No frame is measured after it. */
const FAR_AHEAD = new Date("2200-01-01T00:00:00Z");

const groupColumns = together(
  streamColumns("st", ["lineId", "operationId", "drawingId"]),
  operationColumns("o", { operation: "key" }),
);
type Group = FrameGroup & { readonly operation: string; readonly drawing: ShellDrawing | null };

const content = drawingRevisionColumns("r", ["content"]);

async function readGroups(plantId: string, lineId: string): Promise<Group[]> {
  const { rows } = await getPool().query<RowOf<typeof groupColumns>>(sql`
    select distinct ${groupColumns} from stream st join operation o on o.plant_id = st.plant_id and o.id = st.operation_id
    where st.plant_id = ${plantId} and st.line_id = ${lineId} and st.points > 0 order by 1, 2, 3`);
  const groups: Group[] = [];
  for (const row of rows) {
    const found = await getPool().query<RowOf<typeof content>>(sql`
      select ${content} from drawing_revision r where r.plant_id = ${plantId} and r.drawing_id = ${row.drawingId}
        and r.state = 'released' order by r.released_at desc limit 1`);
    groups.push({ ...row, drawing: (found.rows[0]?.content as ShellDrawing | undefined) ?? null });
  }
  return groups;
}

type Following = {
  readonly now: Date;
  readonly until: Date;
  readonly signal: AbortSignal | undefined;
  /** Changes that are over by the time of the first look are history, of which nobody is told. */
  readonly isHistory: boolean;
};

/** Goes on with one group by some hundred frames, and with its cases where it has come to the newest frame. */
async function followGroup(
  plantId: string,
  group: Group,
  reference: ReferenceData,
  { now, until, isHistory }: Following,
): Promise<{ readonly isMore: boolean }> {
  const { drawing, operation } = group;
  if (drawing === null) return { isMore: false };
  return inSqlTransaction(
    async (db) => {
      const watch = await lockWatch(db, plantId, group, until);
      const schemes = await readSchemes(db, plantId);
      const grounds: WatchGrounds = {
        drawing,
        boreReadings: boreReadings(reference, group),
        schemes,
        unknownWearSd: UNKNOWN_WEAR_SD,
      };
      const { window, streams, isMore } = await advanceWatch(db, plantId, watch, grounds, until);
      if (isMore) return { isMore };
      await followCases(db, plantId, { watch, grounds, reference, operation, streams, window, isHistory }, now);
      return { isMore };
    },
    { timeoutMs: TIMEOUT_MS },
  );
}

/**
 * Follows the cases of a line up to its newest frame: every stream goes on from where it is stored, cases are opened, fitted anew, ended.
 * May be called again at any moment: what was done is not done twice.
 *
 * @param options.until - frames measured later are left for another time
 */
export async function followLineCases(
  plantId: string,
  lineId: string,
  options: {
    readonly now?: Date;
    readonly until?: Date;
    readonly signal?: AbortSignal;
    readonly isTold?: boolean;
  } = {},
): Promise<void> {
  const { now = new Date(), signal } = options;
  const until = options.until ?? FAR_AHEAD;
  await inSqlTransaction((db) => spreadOverNewStreams(db, plantId, now));
  const reference = await getReferenceData(plantId);
  for (const group of await readGroups(plantId, lineId)) {
    const isHistory = options.isTold !== true && (await isNew(plantId, group));
    const following = { now, until, signal, isHistory };
    while (signal?.aborted !== true && (await followGroup(plantId, group, reference, following)).isMore);
  }
}

async function isNew(plantId: string, { lineId, operationId, drawingId }: FrameGroup): Promise<boolean> {
  const { rows } = await getPool().query<{ known: boolean }>(sql`
    select exists (select from alarm_watch where plant_id = ${plantId} and line_id = ${lineId} and operation_id = ${operationId}
      and drawing_id = ${drawingId} and place > 0) as known`);
  return rows[0]?.known !== true;
}
