import "server-only";
import { createHash } from "node:crypto";
import { z } from "zod";
import { paperSchema } from "@/lib/schemas/paper";
import { uuidSchema } from "@/lib/schemas/uuid";
import type { SystemViewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { plantColumns } from "../db/columns/plant";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { defineJob } from "../jobs/define-job";
import type { MadePaper, PaperRun } from "./made-paper";
import { PAPER_WORDS } from "./words";

async function make(about: z.infer<typeof paperSchema>, run: PaperRun): Promise<MadePaper> {
  // The web server adds the job and never makes a document: it need not load what makes them.
  switch (about.kind) {
    case "stream":
      return (await import("./stream-paper")).makeStreamPaper(about, run);
    case "shift":
      return (await import("./shift-paper")).makeShiftPaper(about, run);
  }
}

const ofPlant = plantColumns("p", { zone: "timeZone", name: "name" });
type Asked = RowOf<typeof ofPlant> & { readonly about: unknown };

/** Makes a document that somebody asked for, and tells how far it is. */
export const paperJob = defineJob({
  name: "papers.make",
  title: "make a document",
  schema: z.strictObject({ plantId: uuidSchema, id: uuidSchema }),
  tries: 2,
  deadlineS: 120,
  run: async ({ plantId, id }, { attempt, signal, finish }) => {
    const pool = getPool();
    const { rows } = await pool.query<Asked>(sql`
      select r.about, ${ofPlant} from paper r join plant p on p.id = r.plant_id
      where r.plant_id = ${plantId} and r.id = ${id} and r.ended_at is null`);
    const asked = rows[0];
    if (asked === undefined) return;
    const viewer: SystemViewer = { kind: "system", plantId, plantZone: asked.zone, name: "Shellgate" };
    const tell = (share: number): void => {
      signal.throwIfAborted();
      // How far it is may come late or not at all: the document does not wait for it.
      pool
        .query(
          sql`update paper set made = ${Math.round(100 * share)} where plant_id = ${plantId} and id = ${id} and ended_at is null`,
        )
        .catch(() => undefined);
    };
    try {
      const run = { viewer, plantName: asked.name, now: new Date(), tell };
      const { fileName, content } = await make(paperSchema.parse(asked.about), run);
      const hash = createHash("sha256").update(content).digest("hex");
      await finish(async (db) => {
        await db.query(sql`
          update paper set ended_at = now(), made = 100, file_name = ${fileName}, content = ${content}, content_hash = ${hash}
          where plant_id = ${plantId} and id = ${id}`);
      });
    } catch (error) {
      if (attempt >= paperJob.tries)
        await pool.query(sql`update paper set ended_at = now(), failure = ${PAPER_WORDS.notMade}
          where plant_id = ${plantId} and id = ${id} and ended_at is null`);
      throw error;
    }
  },
});
