import "server-only";
import { SIGNED_STATES } from "@/lib/quality/frame-state";
import type { Disposition } from "@/lib/schemas/decision";
import { uuidV7 } from "@/lib/schemas/identifier";
import type { PersonViewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { batchColumns } from "../db/columns/batch";
import { frameColumns } from "../db/columns/frame";
import { supplierColumns } from "../db/columns/supplier";
import { type RowOf, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { decideFrames, releaseBatch } from "../gate/commands";
import { readBatchEvidence, type BatchFrame } from "../gate/read-batch-evidence";
import { readCause } from "../gate/read-cause-facts";
import { shipFrame } from "../shipments/ship-frame";
import type { DemoProgress } from "./demo-progress";

type Options = { readonly before: Date; readonly password: string; readonly onProgress: DemoProgress };

const DAY_MS = 86_400_000;
const AT_ONCE = 4;

const old = together(batchColumns("b", ["id"]), supplierColumns("s", { supplier: "key" }));
type OldBatch = RowOf<typeof old> & { settledAt: Date };

/** What a spoiled shell costs the invented plant, with the work in it. */
const COST_OF_SHELL = 180;

function dispositionOf(frame: BatchFrame, isOurs: boolean): { disposition: Disposition; grounds: string } {
  if (frame.verdict !== "does not conform")
    return {
      disposition: "concession",
      grounds: "Inside the limit, within the uncertainty of it: accepted for this lot",
    };
  return isOurs
    ? { disposition: "scrap", grounds: "Outside the limit by our own work: not the supplier's, booked as ours" }
    : { disposition: "return_to_supplier", grounds: "Outside the limit by more than the uncertainty: goes back" };
}

/** Signs for the bad frames of one batch, one decision a kind, and releases it. */
async function decide(plantId: string, batch: OldBatch, manager: PersonViewer, password: string): Promise<void> {
  const groups = new Map<Disposition, { grounds: string; serials: string[] }>();
  const found = await readBatchEvidence(getPool(), plantId, batch.id);
  const isOurs = found !== null && (await readCause(getPool(), manager, found)).side === "ours";
  for (const frame of found?.frames ?? []) {
    if (frame.state !== "held") continue;
    const { disposition, grounds } = dispositionOf(frame, isOurs);
    const group = groups.get(disposition) ?? { grounds, serials: [] };
    group.serials.push(frame.serial);
    groups.set(disposition, group);
  }
  let batchVersion = found?.version ?? 0;
  for (const [disposition, { grounds, serials }] of groups) {
    const expires =
      disposition === "concession"
        ? { expiresAt: new Date(batch.settledAt.getTime() + 90 * DAY_MS).toISOString() }
        : {};
    const ours = disposition === "scrap" ? { cause: "ours" as const, cost: COST_OF_SHELL * serials.length } : {};
    const decision = {
      id: uuidV7(),
      batchId: batch.id,
      serials,
      disposition,
      grounds,
      password,
      batchVersion,
      ...expires,
      ...ours,
    };
    await decideFrames(manager, decision, batch.settledAt);
    batchVersion += 1;
  }
  if (found?.heldAt !== null)
    await releaseBatch(
      manager,
      {
        id: uuidV7(),
        batchId: batch.id,
        grounds: "Every frame with bad evidence has its own decision",
        password,
        batchVersion,
      },
      batch.settledAt,
    );
}

const shipped = frameColumns("frame", ["serial"]);

async function ship(plantId: string, batchId: string, dock: PersonViewer, at: Date): Promise<void> {
  const { rows } = await getPool().query<RowOf<typeof shipped>>(sql`
    select ${shipped} from frame where plant_id = ${plantId} and batch_id = ${batchId}
      and state = any(${["measured", ...SIGNED_STATES]}::"FrameState"[]) order by position`);
  for (const { serial } of rows) await shipFrame(dock, { id: uuidV7(), serial }, at);
}

/**
 * Decides on and ships the batches of long ago, two days after each was opened and after its last reading arrived, through the gate's own commands. A batch whose
 * readings a gauge put in doubt waits to be measured again.
 */
export async function settleOldBatches(
  plantId: string,
  people: ReadonlyMap<string, PersonViewer>,
  { before, password, onProgress }: Options,
): Promise<void> {
  const everybody = [...people.values()];
  const manager = everybody.find((person) => person.roles.includes("supplier_manager"));
  const dock = everybody.find((person) => person.roles.includes("dock"));
  if (!manager || !dock) return;
  const { rows } = await getPool().query<OldBatch>(sql`
    select ${old},
      greatest(b.opened_at + interval '2 days', recorded.last + interval '1 hour') as "settledAt"
    from batch b join supplier s on s.plant_id = b.plant_id and s.id = b.supplier_id
    left join (
      select f.batch_id, max(i.recorded_at) as last
      from inspection i join frame f on f.plant_id = i.plant_id and f.id = i.frame_id
      where i.plant_id = ${plantId} group by f.batch_id
    ) recorded on recorded.batch_id = b.id
    where b.plant_id = ${plantId} and b.opened_at < ${before}
      and not exists (select 1 from frame f where f.plant_id = b.plant_id and f.batch_id = b.id and f.inspections = 0)
      and not exists (select 1 from frame f where f.plant_id = b.plant_id and f.batch_id = b.id and f.state = 'held'
        and jsonb_path_exists(f.judgement, '$[*] ? (@.verdict == "not proven" && exists (@.reason))'))
    order by b.opened_at, b.id`);
  const waiting = [...rows];
  let done = 0;
  const work = async (): Promise<void> => {
    for (let batch = waiting.shift(); batch !== undefined; batch = waiting.shift()) {
      await decide(plantId, batch, manager, password);
      await ship(plantId, batch.id, dock, batch.settledAt);
      done += 1;
      onProgress("batches shipped", done, rows.length);
    }
  };
  await Promise.all(Array.from({ length: AT_ONCE }, work));
}
