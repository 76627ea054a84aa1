import "server-only";
import type pg from "pg";
import { serialsOneDigitOff } from "@/lib/quality/like-serials";
import { frameColumns } from "../db/columns/frame";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";

const like = frameColumns("f", ["serial"]);
/** As many as somebody at the dock reads. */
const MOST_SHOWN = 3;

export type LikeFrames = {
  /** The one frame whose serial differs in capitals only; null where none or several do. */
  readonly same: string | null;
  /** Serials of frames that a slip could have made of it, or that differ in capitals where several do; at most 3. */
  readonly near: readonly string[];
};

/**
 * What a serial that no frame has may have been meant to be.
 *
 * @param serial - as it was scanned or keyed; no frame has it letter by letter
 */
export async function findLikeFrames(
  db: pg.ClientBase | pg.Pool,
  plantId: string,
  serial: string,
): Promise<LikeFrames> {
  const { rows: same } = await db.query<RowOf<typeof like>>(sql`
    select ${like} from frame f where f.plant_id = ${plantId} and lower(f.serial) collate "C" = lower(${serial}::text)
    order by f.serial limit ${MOST_SHOWN}`);
  const [first] = same;
  if (first !== undefined)
    return same.length === 1 ? { same: first.serial, near: [] } : { same: null, near: same.map((one) => one.serial) };
  const candidates = serialsOneDigitOff(serial);
  if (candidates.length === 0) return { same: null, near: [] };
  const { rows } = await db.query<RowOf<typeof like>>(sql`
    select ${like} from frame f where f.plant_id = ${plantId} and lower(f.serial) collate "C" = any(${candidates}::text[])
    order by f.serial limit ${MOST_SHOWN}`);
  return { same: null, near: rows.map((one) => one.serial) };
}
