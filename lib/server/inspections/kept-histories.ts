import "server-only";
import type pg from "pg";
import { inspectionColumns, notWithdrawn } from "../db/columns/inspection";
import type { RowOf } from "../db/columns/table-columns";
import { prepared, sql } from "../db/sql";
import { askedOf } from "../evidence/batch-plan";
import { listEarlier } from "../evidence/earlier-inspections";
import type { ReferenceData } from "../evidence/reference-data";
import { FrameHistory } from "./frame-history";
import type { FrameNow } from "./placed-inspection";

/** A history as it was when the transaction that used it had committed, and what it was made with. */
type Kept = {
  readonly history: FrameHistory;
  readonly reference: ReferenceData;
  readonly planId: string;
  readonly evidenceFromMs: number | null;
};

/** Frames whose histories are kept: who studies one measures it again at once, and a plant has few who do. */
const MOST_KEPT = 20;
/** Inspections from which on a history is worth keeping. */
const WORTH_KEEPING = 10;

/** By frame. A history that is in use is not in it: nobody else finds one that may not be committed. */
const kept = new Map<string, Kept>();

const msOf = (date: Date | null): number | null => date?.getTime() ?? null;

/** Takes out what was kept of a frame; null where it was made with anything else than what counts now. */
function takeKept({ id, planId, evidenceFrom }: FrameNow, reference: ReferenceData): FrameHistory | null {
  const known = kept.get(id);
  kept.delete(id);
  if (known?.reference !== reference || known.planId !== planId) return null;
  return known.evidenceFromMs === msOf(evidenceFrom) ? known.history : null;
}

const frameNow = inspectionColumns("now", ["frameId"]);
type NowRow = RowOf<typeof frameNow> & { readonly ids: readonly string[]; readonly isSigned: boolean };

/** Which inspections of some frames were not withdrawn, oldest first, and whether a signed decision says anything of them. */
async function readNow(db: pg.ClientBase, plantId: string, frameIds: readonly string[]): Promise<Map<string, NowRow>> {
  const { rows } = await db.query<NowRow>(
    prepared(
      "list-inspections-now",
      sql`select ${frameNow}, now.ids, exists (
          select 1 from decision d, jsonb_array_elements(d.evidence -> 'sides') s
          where d.plant_id = ${plantId} and d.batch_id = any(now.batches) and d.kind = 'resolve_disagreement'
            and s ->> 'inspection' = any(now.ids)) as "isSigned"
        from (
          select i.frame_id, array_agg(i.id::text order by i.measured_at, i.id) as ids, array_agg(distinct i.batch_id) as batches
          from inspection i
          where i.plant_id = ${plantId} and i.frame_id = any(${frameIds}::uuid[]) and ${notWithdrawn}
          group by i.frame_id) as now`,
    ),
  );
  return new Map(rows.map((row) => [row.frameId, row]));
}

const isStill = (history: FrameHistory, now: NowRow | undefined): boolean =>
  now !== undefined &&
  !now.isSigned &&
  now.ids.length === history.ids.length &&
  now.ids.every((id, place) => id === history.ids[place]);

/**
 * Histories of frames that are locked. What was kept of one is taken where it was judged by the same reference data and plan and
 * the database still has the same inspections in the same order, so that the next reading is judged as if all were read again:
 * a thousand requests for one frame would else read and judge half a million.
 */
export async function readHistories(
  db: pg.ClientBase,
  plantId: string,
  frames: readonly FrameNow[],
  reference: ReferenceData,
): Promise<Map<string, FrameHistory>> {
  const histories = new Map<string, FrameHistory>();
  const measured = frames.filter((frame) => frame.inspections > 0);
  const taken = measured.flatMap((frame) => {
    const history = takeKept(frame, reference);
    return history === null ? [] : [{ id: frame.id, history }];
  });
  if (taken.length > 0) {
    const ids = taken.map(({ id }) => id);
    const now = await readNow(db, plantId, ids);
    for (const { id, history } of taken) if (isStill(history, now.get(id))) histories.set(id, history);
  }
  const anew = measured.filter(({ id }) => !histories.has(id));
  if (anew.length === 0) return histories;
  const earlier = await listEarlier(db, plantId, anew, reference);
  for (const { id, evidenceFrom, planId } of anew)
    histories.set(id, new FrameHistory(evidenceFrom, askedOf(planId, reference), earlier.get(id) ?? []));
  return histories;
}

/**
 * Keeps histories for the next transaction, once the one that used them is committed.
 *
 * @param frames - as they were when the histories were made
 */
export function keepHistories(
  histories: ReadonlyMap<string, FrameHistory>,
  frames: Iterable<FrameNow>,
  reference: ReferenceData,
): void {
  for (const { id, planId, evidenceFrom } of frames) {
    const history = histories.get(id);
    if (history === undefined || !history.isPlain || history.count < WORTH_KEEPING) continue;
    kept.delete(id);
    const [oldest] = kept.keys();
    if (oldest !== undefined && kept.size >= MOST_KEPT) kept.delete(oldest);
    kept.set(id, { history, reference, planId, evidenceFromMs: msOf(evidenceFrom) });
  }
}
