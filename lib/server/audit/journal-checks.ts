import "server-only";
import { AppError } from "../../errors";
import { uuidV7 } from "../../schemas/identifier";
import { askJournalCheckSchema, type AskJournalCheck } from "../../schemas/journal-check";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { parseInput } from "../base/parse-input";
import { getPool } from "../db/client";
import { nameThen } from "../db/name-then";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { enqueue } from "../jobs/queue";
import type { JournalReport } from "../journal/verify-journal";
import { checkJournalJob } from "./check-job";
import { AUDIT_WORDS } from "./words";

const words = AUDIT_WORDS.journalChecks;

/** A check that somebody asked for: waiting or running while it has no end. */
export type JournalCheck = {
  readonly id: string;
  readonly askedAt: string;
  /** Null where Shellgate itself asked. */
  readonly askedBy: string | null;
  readonly anchor: string | null;
  readonly entries: number;
  readonly checked: number;
  readonly endedAt: string | null;
  readonly report: JournalReport | null;
  readonly failure: string | null;
};

const SHOWN = 5;

/**
 * Asks for a check of the whole journal, done by the worker; one at a time.
 *
 * @throws AppError forbidden, invalid-input, conflict where one waits or runs
 */
export async function askJournalCheck(viewer: Viewer, input: AskJournalCheck): Promise<{ readonly id: string }> {
  assertMay(viewer, "journal.verify");
  const { anchor } = parseInput(askJournalCheckSchema, input);
  const { plantId } = viewer;
  const id = uuidV7();
  await inSqlTransaction(async (db) => {
    await db.query(sql`select 1 from plant where id = ${plantId} for update`);
    const { rowCount } = await db.query(sql`
      select id from journal_check where plant_id = ${plantId} and ended_at is null`);
    if (rowCount !== 0) throw new AppError("conflict", words.checkIsOnWayAlready);
    await db.query(sql`
      insert into journal_check (plant_id, id, asked_at, asked_by_id, anchor)
      values (${plantId}, ${id}, now(), ${viewer.kind === "person" ? viewer.personId : null}, ${anchor === "" ? null : anchor})`);
    await enqueue(db, checkJournalJob, { plantId, id }, { key: plantId });
  });
  return { id };
}

/** The newest checks that somebody asked for. */
export async function listJournalChecks(viewer: Viewer): Promise<readonly JournalCheck[]> {
  assertMay(viewer, "journal.view");
  type Row = Omit<JournalCheck, "askedAt" | "endedAt"> & { askedAt: Date; endedAt: Date | null };
  const { rows } = await getPool().query<Row>(sql`
    select c.id, c.asked_at as "askedAt", ${nameThen("p", "c.asked_at")} as "askedBy", c.anchor, c.entries, c.checked,
      c.ended_at as "endedAt", c.report, c.failure
    from journal_check c left join person p on p.plant_id = c.plant_id and p.id = c.asked_by_id
    where c.plant_id = ${viewer.plantId} order by c.asked_at desc, c.id limit ${SHOWN}`);
  return rows.map((row) => ({
    ...row,
    askedAt: row.askedAt.toISOString(),
    endedAt: row.endedAt?.toISOString() ?? null,
  }));
}
