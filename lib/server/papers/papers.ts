import "server-only";
import type pg from "pg";
import { AppError } from "@/lib/errors";
import type { AskPaper, PaperAbout } from "@/lib/schemas/paper";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { readStreamHead } from "../drift/queries";
import { enqueue } from "../jobs/queue";
import { paperJob } from "./job";
import { paperLineId } from "./paper-line";
import { PAPER_WORDS as words } from "./words";

/** Documents are kept for so many days; they can be made anew. */
export const PAPER_DAYS = 7;
/** Somebody who presses again and again waits for what he asked for first. */
const MOST_WAITING = 20;

/** @throws AppError not-found, now rather than in the worker, whose answer nobody waits for */
async function assertIsThere(plantId: string, about: PaperAbout): Promise<void> {
  if (about.kind === "stream") await readStreamHead(plantId, about.streamId);
  else await paperLineId(plantId, about.line);
}

async function assertSamePaper(db: pg.ClientBase, plantId: string, { id, about }: AskPaper): Promise<void> {
  const { rows } = await db.query<{ same: boolean }>(sql`
    select about = ${JSON.stringify(about)}::jsonb as same from paper where plant_id = ${plantId} and id = ${id}`);
  if (rows[0]?.same !== true) throw new AppError("already-recorded-differently", words.otherUnderThisKey);
}

/**
 * Asks for a document, which the worker makes. The same again changes nothing.
 *
 * @throws AppError forbidden, not-found, already-recorded-differently where the key stands for another document, unavailable where
 *   many are being made already
 */
export async function askPaper(viewer: Viewer, { id, about }: AskPaper): Promise<void> {
  assertMay(viewer, "drift.view");
  assertMay(viewer, "records.export");
  const { plantId } = viewer;
  await assertIsThere(plantId, about);
  await inSqlTransaction(async (db) => {
    const added = await db.query(sql`
      insert into paper (plant_id, id, kind, about, asked_at, asked_by_id)
      values (${plantId}, ${id}, ${about.kind}, ${JSON.stringify(about)}::jsonb, now(), ${viewer.kind === "person" ? viewer.personId : null})
      on conflict do nothing`);
    if (added.rowCount === 0) return assertSamePaper(db, plantId, { id, about });
    const { rows } = await db.query<{ waiting: number }>(
      sql`select count(*)::int as waiting from paper where plant_id = ${plantId} and ended_at is null and asked_at > now() - interval '1 hour'`,
    );
    if ((rows[0]?.waiting ?? 0) > MOST_WAITING) throw new AppError("unavailable", words.tooMany);
    await enqueue(db, paperJob, { plantId, id });
  });
}

type PaperState = { readonly made: number; readonly isReady: boolean; readonly failure: string | null };

/**
 * How far a document is.
 *
 * @throws AppError forbidden, not-found
 */
export async function paperState(viewer: Viewer, id: string): Promise<PaperState> {
  assertMay(viewer, "records.export");
  const { rows } = await getPool().query<PaperState>(sql`
    select made, content is not null as "isReady", failure from paper where plant_id = ${viewer.plantId} and id = ${id}`);
  if (rows[0] === undefined) throw new AppError("not-found", words.noSuch);
  return rows[0];
}

/**
 * A document as a file.
 *
 * @throws AppError forbidden, not-found, conflict where it is not made yet or could not be
 */
export async function paperFile(
  viewer: Viewer,
  id: string,
): Promise<{ readonly fileName: string; readonly content: Buffer }> {
  assertMay(viewer, "records.export");
  const { rows } = await getPool().query<{
    fileName: string | null;
    content: Buffer | null;
    made: number;
    failure: string | null;
  }>(sql`
    select file_name as "fileName", content, made, failure from paper where plant_id = ${viewer.plantId} and id = ${id}`);
  const found = rows[0];
  if (found === undefined) throw new AppError("not-found", words.noSuch);
  if (found.content === null) throw new AppError("conflict", found.failure ?? words.notYet(found.made));
  return { fileName: found.fileName ?? "shellgate.pdf", content: found.content };
}

/** Removes documents whose days are over. */
export async function forgetPapers(): Promise<void> {
  await getPool().query(sql`delete from paper where asked_at < now() - make_interval(days => ${PAPER_DAYS})`);
}
