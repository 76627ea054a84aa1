import "server-only";
import type pg from "pg";
import { lineColumns } from "../db/columns/line";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { lockChain } from "../journal/append-journal";

const keyed = lineColumns("line", ["key"]);

/** Recording on any line waits until the transaction ends, and then sees what it says of a gauge. */
export async function lockLines(db: pg.ClientBase, plantId: string): Promise<void> {
  const { rows } = await db.query<RowOf<typeof keyed>>(
    sql`select ${keyed} from line where plant_id = ${plantId} order by key`,
  );
  for (const { key } of rows) await lockChain(db, plantId, `line:${key}`);
}
