import "server-only";
import { z } from "zod";
import type { SwitchingState } from "@/lib/core/sampling/switching";
import { afterJudgement, type LotJudgement } from "@/lib/quality/lot-judgement";
import type { LotScheme } from "@/lib/quality/lot-plan";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { batchColumns } from "../db/columns/batch";
import { frameModelColumns } from "../db/columns/frame-model";
import { journalEntryColumns } from "../db/columns/journal-entry";
import { sampledLotColumns } from "../db/columns/sampled-lot";
import { samplingSchemeColumns } from "../db/columns/sampling-scheme";
import { supplierColumns } from "../db/columns/supplier";
import { type RowOf, orNull, together } from "../db/columns/table-columns";
import { nameThen } from "../db/name-then";
import { sql } from "../db/sql";
import { readSampledBatch } from "./lot-evidence";
import { pendingLots, readStanding } from "./sample-batch";

const pair = together(
  supplierColumns("su", { supplier: "key", supplierName: "name" }),
  frameModelColumns("m", { model: "key", modelName: "name" }),
  orNull(samplingSchemeColumns("s", ["id", "version", "scheme", "state", "createdAt"])),
);

/** A supplier and model with batches or a scheme, and where its switching stands by all that is measured now. */
export type SampledPair = Omit<RowOf<typeof pair>, "state" | "createdAt"> & {
  readonly batches: number;
  /** Median size of its newest batches; null where there is none yet. */
  readonly lot: number | null;
  readonly since: string | null;
  readonly standing: SwitchingState | null;
};

/** Sizes of this many newest batches say what its usual batch is. */
const SIZED_BATCHES = 20;

/** Every supplier and model that has batches or is sampled. */
export async function listSampling(viewer: Viewer): Promise<readonly SampledPair[]> {
  assertMay(viewer, "gate.view");
  const { plantId } = viewer;
  const { rows } = await getPool().query<RowOf<typeof pair> & { batches: number; lot: number | null }>(sql`
    with pairs as (
      select supplier_id, model_id, count(*)::int as batches from batch where plant_id = ${plantId} group by 1, 2
      union all
      select supplier_id, model_id, 0 from sampling_scheme where plant_id = ${plantId} group by 1, 2),
    known as (select supplier_id, model_id, sum(batches)::int as batches from pairs group by 1, 2)
    select ${pair}, k.batches,
      (select percentile_disc(0.5) within group (order by t.frames) from (
        select t.frames from batch b join batch_tally t on t.plant_id = b.plant_id and t.batch_id = b.id
        where b.plant_id = ${plantId} and b.supplier_id = k.supplier_id and b.model_id = k.model_id
        order by b.opened_at desc limit ${SIZED_BATCHES}) t) as lot
    from known k
    join supplier su on su.plant_id = ${plantId} and su.id = k.supplier_id
    join frame_model m on m.plant_id = ${plantId} and m.id = k.model_id
    left join lateral (select * from sampling_scheme s where s.plant_id = ${plantId} and s.supplier_id = k.supplier_id
      and s.model_id = k.model_id order by s.version desc limit 1) s on true
    order by su.name, m.name, su.key, m.key`);
  return Promise.all(
    rows.map(async ({ state, createdAt, ...row }) => ({
      ...row,
      since: createdAt?.toISOString() ?? null,
      standing: row.id === null ? null : await standsNow(plantId, { id: row.id, state }),
    })),
  );
}

/** Where the switching stands with the batches that are measured since it was written down. */
async function standsNow(
  plantId: string,
  scheme: { readonly id: string; readonly state: SwitchingState | null },
): Promise<SwitchingState | null> {
  const standing = await readStanding(getPool(), plantId, scheme);
  if (standing === null) return null;
  let { state } = standing;
  for (const batch of await pendingLots(getPool(), plantId, scheme.id)) {
    const judgement = (await readSampledBatch(getPool(), plantId, batch))?.judgement;
    if (judgement !== undefined && judgement.state !== "measuring" && judgement.plan.code !== null)
      state = afterJudgement(state, judgement);
  }
  return state;
}

const version = samplingSchemeColumns("s", ["id", "version", "scheme", "reason", "createdAt"]);
const lot = together(batchColumns("b", ["key"]), sampledLotColumns("l", ["place", "found", "accepted", "state", "at"]));

export type SchemeVersion = Omit<RowOf<typeof version>, "createdAt"> & { readonly at: string; readonly person: string };
export type JudgedLot = {
  readonly batch: string;
  readonly found: readonly string[];
  readonly accepted: boolean;
  readonly state: SwitchingState;
  readonly at: string;
};

const VERSIONS_SHOWN = 50;
const LOTS_SHOWN = 50;

/** Versions of the sampling of a supplier and model, newest first, and the batches by which it switched. */
export async function readSamplingHistory(
  viewer: Viewer,
  of: { readonly supplier: string; readonly model: string },
): Promise<{ readonly versions: readonly SchemeVersion[]; readonly lots: readonly JudgedLot[] }> {
  assertMay(viewer, "gate.view");
  const { plantId } = viewer;
  const { rows: versions } = await getPool().query<RowOf<typeof version> & { person: string }>(sql`
    select ${version}, ${nameThen("p", "s.created_at")} as person from sampling_scheme s
    join supplier su on su.plant_id = s.plant_id and su.id = s.supplier_id and su.key = ${of.supplier}
    join frame_model m on m.plant_id = s.plant_id and m.id = s.model_id and m.key = ${of.model}
    join person p on p.plant_id = s.plant_id and p.id = s.person_id
    where s.plant_id = ${plantId} order by s.version desc limit ${VERSIONS_SHOWN}`);
  const { rows: lots } = await getPool().query<RowOf<typeof lot>>(sql`
    select ${lot} from sampled_lot l join batch b on b.plant_id = l.plant_id and b.id = l.batch_id
    where l.plant_id = ${plantId} and l.scheme_id = any(${versions.map(({ id }) => id)}::uuid[])
    order by l.at desc, l.place desc, b.key limit ${LOTS_SHOWN}`);
  return {
    versions: versions.map(({ createdAt, ...row }) => ({ ...row, at: createdAt.toISOString() })),
    lots: lots.map(({ key, place: _place, at, ...row }) => ({ ...row, batch: key, at: at.toISOString() })),
  };
}

/** What a batch was given with its list, and how it stands by it; null where its measuring plan alone says what is measured. */
export type BatchSample = {
  readonly scheme: LotScheme;
  readonly judgement: LotJudgement;
  /** Where the switching stood before it. */
  readonly state: SwitchingState | null;
  readonly drawn: SampleDraw | null;
  readonly at: string;
};

/** The draw as the journal keeps it, so that anybody can draw again. */
export type SampleDraw = { readonly serials: readonly string[]; readonly seed: number; readonly list: string };

const entry = journalEntryColumns("e", ["payload"]);
const drawSchema = z.object({ serials: z.array(z.string()), seed: z.number(), list: z.string() });

export async function findBatchSample(
  viewer: Viewer,
  batch: { readonly id: string; readonly key: string },
): Promise<BatchSample | null> {
  assertMay(viewer, "gate.view");
  const found = await readSampledBatch(getPool(), viewer.plantId, batch);
  if (found === null) return null;
  const { rows } = await getPool().query<RowOf<typeof entry>>(sql`
    select ${entry} from journal_entry e where plant_id = ${viewer.plantId} and chain = 'samples'
      and action = 'sample.drawn' and payload ->> 'batch' = ${batch.key} order by sequence limit 1`);
  const { plan, judgement, state, at } = found;
  return {
    scheme: plan.scheme,
    judgement,
    state,
    drawn: drawSchema.safeParse(rows[0]?.payload).data ?? null,
    at: at.toISOString(),
  };
}
