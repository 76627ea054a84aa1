import "server-only";
import { z } from "zod";
import { getPool } from "../db/client";
import { plantColumns } from "../db/columns/plant";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { defineJob } from "../jobs/define-job";
import { anchorJournal } from "../journal/anchor-journal";
import { beginVouching } from "../journal/begin-vouching";

const everyPlant = plantColumns("plant", ["id"]);

/** Plants whose journal is known to vouch for all that it should: it never ceases to. */
const begun = new Set<string>();

/** Ties the chains of every plant's journal together each minute; a chain that did not grow costs a read. */
export const anchorJob = defineJob({
  name: "journal.anchor",
  title: "tie the journal together",
  schema: z.strictObject({}),
  everyS: 60,
  // The next minute is the next try.
  tries: 3,
  run: async () => {
    const { rows } = await getPool().query<RowOf<typeof everyPlant>>(sql`select ${everyPlant} from plant order by id`);
    for (const { id } of rows) {
      if (!begun.has(id)) await beginVouching(id);
      begun.add(id);
      await anchorJournal(id);
    }
  },
});
