import "server-only";
import type pg from "pg";
import type { SwitchingState } from "@/lib/core/sampling/switching";
import { afterJudgement } from "@/lib/quality/lot-judgement";
import { framesOfPlan, lotPlan } from "@/lib/quality/lot-plan";
import { actorOf, type Viewer } from "../auth/viewer";
import { batchColumns } from "../db/columns/batch";
import { sampledLotColumns } from "../db/columns/sampled-lot";
import { samplingSchemeColumns } from "../db/columns/sampling-scheme";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { appendToLockedChain, type ChainHead, lockChain } from "../journal/append-journal";
import { canonicalJson } from "../journal/canonical-json";
import { subjectsOf } from "../journal/row-hashes";
import { drawOn, SAMPLES_CHAIN } from "../line/draw-sample";
import { readSampledBatch } from "./lot-evidence";

const inForce = samplingSchemeColumns("s", ["id", "version", "scheme", "state"]);
export type SchemeInForce = RowOf<typeof inForce>;
const pending = batchColumns("b", ["id", "key"]);
const newestLot = sampledLotColumns("l", ["place", "state"]);

/** The scheme of a supplier and model that is in force; null where the measuring plan alone says what is measured. */
export async function findScheme(
  db: pg.ClientBase | pg.Pool,
  plantId: string,
  { supplierId, modelId }: { readonly supplierId: string; readonly modelId: string },
): Promise<SchemeInForce | null> {
  const { rows } = await db.query<SchemeInForce>(sql`
    select ${inForce} from sampling_scheme s where s.plant_id = ${plantId} and s.supplier_id = ${supplierId}
      and s.model_id = ${modelId} order by s.version desc limit 1`);
  return rows[0] ?? null;
}

type Standing = { readonly place: number; readonly state: SwitchingState };

/** Where the switching of a scheme stands after the batches that were judged; null where it has none. */
export async function readStanding(
  db: pg.ClientBase | pg.Pool,
  plantId: string,
  scheme: Pick<SchemeInForce, "id" | "state">,
): Promise<Standing | null> {
  if (scheme.state === null) return null;
  const { rows } = await db.query<RowOf<typeof newestLot>>(sql`
    select ${newestLot} from sampled_lot l where l.plant_id = ${plantId} and l.scheme_id = ${scheme.id}
    order by l.place desc limit 1`);
  return rows[0] ?? { place: 0, state: scheme.state };
}

/** Batches of a scheme that are not judged yet, in the order in which they were opened. */
export async function pendingLots(
  db: pg.ClientBase | pg.Pool,
  plantId: string,
  schemeId: string,
): Promise<readonly RowOf<typeof pending>[]> {
  const { rows } = await db.query<RowOf<typeof pending>>(sql`
    select ${pending} from batch_sample s join batch b on b.plant_id = s.plant_id and b.id = s.batch_id
    where s.plant_id = ${plantId} and s.scheme_id = ${schemeId} and s.state is not null
      and not exists (select 1 from sampled_lot l where l.plant_id = s.plant_id and l.batch_id = s.batch_id)
    order by s.at, b.id`);
  return rows;
}

/** Judges the batches of a scheme whose samples are measured, one after the other, and keeps where the switching stands. */
export async function judgeLots(
  db: pg.ClientBase,
  head: ChainHead,
  viewer: Viewer,
  scheme: SchemeInForce,
  at: Date,
): Promise<{ readonly head: ChainHead; readonly state: SwitchingState | null }> {
  const { plantId } = viewer;
  const standing = await readStanding(db, plantId, scheme);
  if (standing === null) return { head, state: null };
  let { place, state } = standing;
  let newest = head;
  for (const batch of await pendingLots(db, plantId, scheme.id)) {
    const judgement = (await readSampledBatch(db, plantId, batch))?.judgement;
    if (judgement === undefined || judgement.state === "measuring" || judgement.plan.code === null) continue;
    place += 1;
    state = afterJudgement(state, judgement);
    const found = [...judgement.found, ...judgement.beside];
    const isAccepted = judgement.state === "accepted";
    await db.query(sql`
      insert into sampled_lot (plant_id, batch_id, scheme_id, place, found, accepted, accepted_tighter, state, at)
      values (${plantId}, ${batch.id}, ${scheme.id}, ${place}, ${found}::text[], ${isAccepted}, ${judgement.isAcceptedTighter},
        ${canonicalJson(state)}::jsonb, ${at})`);
    newest = await appendToLockedChain(db, newest, {
      plantId,
      chain: SAMPLES_CHAIN,
      at,
      actor: actorOf(viewer),
      action: "sample.judged",
      subjects: await subjectsOf(db, plantId, "sampled_lot", [batch.id]),
      states: [],
      payload: { batch: batch.key, accepted: isAccepted, found, severity: state.severity },
    });
  }
  return { head: newest, state };
}

/**
 * Gives a batch that was just made the plan of its supplier and model, and draws its serials: the list stands from now on. Batches of
 * before whose samples are measured by now are judged first, since they choose the severity.
 */
export async function sampleNewBatch(
  db: pg.ClientBase,
  viewer: Viewer,
  batch: {
    readonly id: string;
    readonly key: string;
    readonly supplierId: string;
    readonly modelId: string;
    readonly frames: number;
  },
  at: Date,
): Promise<void> {
  const { plantId } = viewer;
  if ((await findScheme(db, plantId, batch)) === null) return;
  const locked = await lockChain(db, plantId, SAMPLES_CHAIN);
  const scheme = await findScheme(db, plantId, batch);
  if (scheme === null) return;
  const { head, state } = await judgeLots(db, locked, viewer, scheme, at);
  const plan = lotPlan(scheme.scheme, batch.frames, state);
  const frames = framesOfPlan(plan);
  await db.query(sql`
    insert into batch_sample (plant_id, batch_id, scheme_id, frames, plan, state, at)
    values (${plantId}, ${batch.id}, ${scheme.id}, ${canonicalJson(frames)}::jsonb, ${canonicalJson(plan)}::jsonb,
      ${state === null ? null : canonicalJson(state)}::jsonb, ${at})`);
  const newest = await appendToLockedChain(db, head, {
    plantId,
    chain: SAMPLES_CHAIN,
    at,
    actor: actorOf(viewer),
    action: "sample.planned",
    subjects: await subjectsOf(db, plantId, "batch_sample", [batch.id]),
    states: [],
    payload: { batch: batch.key, version: scheme.version, n: plan.n, ac: plan.ac, k: plan.k, severity: plan.severity },
  });
  if (frames.kind === "drawn")
    await drawOn(db, newest, viewer, { id: batch.id, key: batch.key, size: plan.n }, { now: at, states: [] });
}
