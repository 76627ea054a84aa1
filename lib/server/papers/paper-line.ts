import "server-only";
import { AppError } from "@/lib/errors";
import { getPool } from "../db/client";
import { lineColumns } from "../db/columns/line";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { PAPER_WORDS as words } from "./words";

const lineHead = lineColumns("line", ["id"]);

/** The line that a document is of. @throws AppError not-found */
export async function paperLineId(plantId: string, key: string): Promise<string> {
  const { rows } = await getPool().query<RowOf<typeof lineHead>>(
    sql`select ${lineHead} from line where plant_id = ${plantId} and key = ${key}`,
  );
  if (rows[0] === undefined) throw new AppError("not-found", words.noSuchLine(key));
  return rows[0].id;
}
