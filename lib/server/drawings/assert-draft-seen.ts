import "server-only";
import type pg from "pg";
import { AppError } from "@/lib/errors";
import { sql } from "../db/sql";

const GONE =
  "This revision is no draft any more, or is not known. Nothing was changed; a released revision never changes.";

const CHANGED =
  "Somebody else changed this draft since you opened it. Nothing was changed; open it again and enter your change there.";

export async function assertDraftSeen(
  db: pg.ClientBase,
  statement: ReturnType<typeof sql>,
  seen: string,
): Promise<void> {
  const { rows } = await db.query<{ seen: string; state: string }>(statement);
  if (rows[0]?.state !== "draft") throw new AppError("conflict", GONE);
  if (rows[0].seen !== seen) throw new AppError("conflict", CHANGED);
}
