import "server-only";
import type { PersonViewer } from "../auth/viewer";
import { assignCaseCause, assignOwner, closeCase } from "../cases/commands";
import { followLineCases } from "../cases/follow-line";
import { listCases } from "../cases/queries";
import { getPool } from "../db/client";
import { lineColumns } from "../db/columns/line";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import type { DemoProgress } from "./demo-progress";

const ofPlant = lineColumns("l", ["id"]);

/** Follows the cases of every line of the plant, as the job would have done frame by frame. */
export async function followDemoCases(plantId: string, now: Date, onProgress: DemoProgress): Promise<void> {
  const { rows } = await getPool().query<RowOf<typeof ofPlant>>(sql`
    select ${ofPlant} from line l where l.plant_id = ${plantId} order by l.key`);
  for (const [place, { id }] of rows.entries()) {
    await followLineCases(plantId, id, { now, isTold: true });
    onProgress("lines followed", place + 1, rows.length);
  }
}

/** Closes the cases of long ago, as the engineer did then: by the likeliest cause, once they were over. */
export async function settleOldCases(people: ReadonlyMap<string, PersonViewer>, before: Date): Promise<void> {
  const engineer = [...people.values()].find((person) => person.roles.includes("engineer"));
  if (!engineer) return;
  const { cases } = await listCases(engineer, { open: "true", limit: 200 });
  for (const { id, overAt, newestAt, found } of cases) {
    // Where no frame was measured since, nothing says that it goes on.
    const last = overAt ?? newestAt;
    if (last === null || new Date(last) >= before) continue;
    const at = before;
    await assignOwner(engineer, { caseId: id, ownerId: engineer.personId }, at);
    const cause = found.causes.find(({ lnOdds }) => lnOdds !== null)?.cause ?? "unknown";
    await assignCaseCause(engineer, { caseId: id, cause }, at);
    const reason = found.events[0]?.text ?? "The frames since are as they were before";
    await closeCase(engineer, { caseId: id, reason, hasNewLevel: false }, at);
  }
}
