import "server-only";
import { z } from "zod";
import { uuidSchema } from "../../schemas/uuid";
import { getPool } from "../db/client";
import { sql } from "../db/sql";
import { defineJob } from "../jobs/define-job";
import { verifyJournal } from "../journal/verify-journal";
import { AUDIT_WORDS } from "./words";

const words = AUDIT_WORDS.checkJob;

const NOT_DONE =
  "The check could not be done. Ask again; if it fails again, npm run verify-journal on the server says why.";

/** Checks the journal of a plant as somebody asked, and tells how far it is. */
export const checkJournalJob = defineJob({
  name: "audit.check",
  title: words.checkJournal,
  schema: z.strictObject({ plantId: uuidSchema, id: uuidSchema }),
  tries: 3,
  deadlineS: 3600,
  run: async ({ plantId, id }, { attempt, signal, finish }) => {
    const pool = getPool();
    const { rows } = await pool.query<{ anchor: string | null }>(sql`
      update journal_check set checked = 0, entries = (select coalesce(sum(length), 0)::int from journal_chain where plant_id = ${plantId})
      where plant_id = ${plantId} and id = ${id} and ended_at is null returning anchor`);
    const asked = rows[0];
    if (asked === undefined) return;
    const tell = (checked: number): void => {
      signal.throwIfAborted();
      // How far it is may come late or not at all: the check does not wait for it.
      pool
        .query(
          sql`update journal_check set checked = ${checked} where plant_id = ${plantId} and id = ${id} and ended_at is null`,
        )
        .catch(() => undefined);
    };
    try {
      const report = await verifyJournal(plantId, {
        ...(asked.anchor === null ? {} : { anchor: asked.anchor }),
        onProgress: tell,
      });
      await finish(async (db) => {
        await db.query(sql`
          update journal_check set ended_at = now(), report = ${JSON.stringify(report)}::jsonb, checked = ${report.entries}
          where plant_id = ${plantId} and id = ${id}`);
      });
    } catch (error) {
      if (attempt >= checkJournalJob.tries)
        await pool.query(sql`update journal_check set ended_at = now(), failure = ${NOT_DONE}
          where plant_id = ${plantId} and id = ${id} and ended_at is null`);
      throw error;
    }
  },
});
