import "server-only";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { batchColumns } from "../db/columns/batch";
import { decisionColumns } from "../db/columns/decision";
import { type RowOf, orNull, together } from "../db/columns/table-columns";
import { nameThen } from "../db/name-then";
import { constant, sql } from "../db/sql";
import { readDecisionEvidence } from "./decision-evidence";

/** What our own causes cost in a month of the plant's calendar, in the plant's money. */
export type CostOfMonth = {
  /** As 2026-12. */
  readonly month: string;
  readonly decisions: number;
  readonly frames: number;
  readonly cost: number;
  /** Decisions whose cost nobody entered. */
  readonly without: number;
};

export type CostOfDecision = {
  readonly id: string;
  readonly kind: string;
  readonly batch: string | null;
  readonly frames: number;
  readonly grounds: string;
  readonly person: string;
  readonly at: string;
  readonly cost: number | null;
};

const MONTHS_SHOWN = 36;
const DECISIONS_SHOWN = 200;

/** What takes frames out or works on them. */
const COSTLY = "d.kind in ('rework', 'repair', 'regrade', 'scrap', 'return_to_supplier')";
/** Whose cause a decision follows: what the signer said, or where nothing was said what the evidence does. */
const SIDE = "coalesce(d.evidence #>> '{cause,said}', d.evidence #>> '{cause,side}')";
const isOwn = constant(`${COSTLY} and ${SIDE} = 'ours'`);
const isCostly = constant(COSTLY);
const side = constant(SIDE);
const decided = together(
  decisionColumns("d", ["id", "kind", "grounds", "at", "evidence"]),
  orNull(batchColumns("b", { batch: "key" })),
);

/** Decisions on frames that failed by our own cause: by month, and the newest one by one. */
export async function readOwnCosts(
  viewer: Viewer,
): Promise<{ readonly months: readonly CostOfMonth[]; readonly decisions: readonly CostOfDecision[] }> {
  assertMay(viewer, "gate.view");
  const { plantId, plantZone } = viewer;
  const { rows: months } = await getPool().query<CostOfMonth>(sql`
    select to_char(d.at at time zone ${plantZone}, 'YYYY-MM') as month, count(*)::int as decisions,
      sum(cardinality(d.frame_ids))::int as frames,
      coalesce(sum((d.evidence #>> '{cause,cost}')::float8), 0)::float8 as cost,
      count(*) filter (where d.evidence #>> '{cause,cost}' is null)::int as without
    from decision d where d.plant_id = ${plantId} and ${isOwn}
    group by 1 order by 1 desc limit ${MONTHS_SHOWN}`);
  const { rows } = await getPool().query<RowOf<typeof decided> & { person: string; frames: number }>(sql`
    select ${decided}, cardinality(d.frame_ids)::int as frames, ${nameThen("p", "d.at")} as person
    from decision d
    join person p on p.plant_id = d.plant_id and p.id = d.person_id
    left join batch b on b.plant_id = d.plant_id and b.id = d.batch_id
    where d.plant_id = ${plantId} and ${isOwn}
    order by d.at desc, d.id limit ${DECISIONS_SHOWN}`);
  return {
    months,
    decisions: rows.map(({ evidence, at, ...row }) => ({
      ...row,
      at: at.toISOString(),
      cost: readDecisionEvidence(evidence).cause?.cost ?? null,
    })),
  };
}

/** What decisions of a stretch cost by whose cause, and how many of them name a sum. */
export type CostBySide = { readonly ours: number; readonly supplier: number; readonly decisions: number };

/** What decisions from one moment to another cost, by whose cause they were. */
export async function readCostBySide(viewer: Viewer, from: Date, until: Date): Promise<CostBySide> {
  assertMay(viewer, "gate.view");
  const { rows } = await getPool().query<CostBySide>(sql`
    select coalesce(sum(c.cost) filter (where c.side = 'ours'), 0)::float8 as ours,
      coalesce(sum(c.cost) filter (where c.side = 'supplier'), 0)::float8 as supplier, count(c.cost)::int as decisions
    from (select ${side} as side, (d.evidence #>> '{cause,cost}')::float8 as cost from decision d
      where d.plant_id = ${viewer.plantId} and d.at >= ${from} and d.at <= ${until} and ${isCostly}) c`);
  return rows[0] ?? { ours: 0, supplier: 0, decisions: 0 };
}
