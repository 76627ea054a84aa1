import "server-only";
import { AppError } from "@/lib/errors";
import type { FoundCase } from "@/lib/quality/cases/found-case";
import type { ListCases } from "@/lib/schemas/case";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { batchColumns } from "../db/columns/batch";
import { driftCaseColumns } from "../db/columns/drift-case";
import { drawingColumns } from "../db/columns/drawing";
import { lineColumns } from "../db/columns/line";
import { operationColumns } from "../db/columns/operation";
import { personColumns } from "../db/columns/person";
import { streamColumns } from "../db/columns/stream";
import { orNull, type RowOf, together } from "../db/columns/table-columns";
import { nameThen } from "../db/name-then";
import { sql } from "../db/sql";
import { type AlarmScheme, DEFAULT_BUDGET, readSchemes } from "./alarm-scheme";
import type { CaseEntryKind } from "./case-entries";

const listed = together(
  driftCaseColumns("c", [
    "id",
    "number",
    "state",
    "found",
    "sinceAt",
    "openedAt",
    "overAt",
    "closedAt",
    "times",
    "stands",
    "cause",
    "ownerId",
  ]),
  lineColumns("l", { line: "key", lineName: "name" }),
  operationColumns("o", { operation: "key", operationName: "name" }),
  drawingColumns("d", { drawing: "key" }),
  orNull(personColumns("p", { owner: "name" })),
);
type ListedRow = RowOf<typeof listed> & { readonly heldBatches: number; readonly newestAt: Date | null };

type Moments = "sinceAt" | "openedAt" | "overAt" | "closedAt" | "newestAt";

/** A case as it is listed; moments are ISO 8601. */
export type CaseListItem = Omit<ListedRow, Moments> & {
  readonly sinceAt: string;
  readonly openedAt: string;
  /** Null while the change goes on. */
  readonly overAt: string | null;
  readonly closedAt: string | null;
  /** When the newest frame was measured that could have it. */
  readonly newestAt: string | null;
};

const FROM_CASES = sql`
  from drift_case c join line l on l.plant_id = c.plant_id and l.id = c.line_id
  join operation o on o.plant_id = c.plant_id and o.id = c.operation_id
  join drawing d on d.plant_id = c.plant_id and d.id = c.drawing_id
  left join person p on p.plant_id = c.plant_id and p.id = c.owner_id`;

const BESIDE = sql`(select count(*)::int from case_batch cb join batch b on b.plant_id = cb.plant_id and b.id = cb.batch_id
  where cb.plant_id = c.plant_id and cb.case_id = c.id and b.held_at is not null) as "heldBatches",
  (select w.newest_at from alarm_watch w where w.plant_id = c.plant_id and w.id = c.watch_id) as "newestAt"`;

function itemOf({ sinceAt, openedAt, overAt, closedAt, newestAt, ...row }: ListedRow): CaseListItem {
  return {
    ...row,
    sinceAt: sinceAt.toISOString(),
    openedAt: openedAt.toISOString(),
    overAt: overAt?.toISOString() ?? null,
    closedAt: closedAt?.toISOString() ?? null,
    newestAt: newestAt?.toISOString() ?? null,
  };
}

/**
 * Cases by their numbers, the newest first; those that joined another one are left out.
 *
 * @returns a page, and the number to ask the next one with; null where there are no more
 */
export async function listCases(
  viewer: Viewer,
  wanted: Partial<ListCases> = {},
): Promise<{ readonly cases: readonly CaseListItem[]; readonly next: number | null }> {
  assertMay(viewer, "drift.view");
  const { open, line = null, since = null, before = null, limit = 50 } = wanted;
  const states = open === undefined ? ["open", "closed"] : [open === "true" ? "open" : "closed"];
  const { rows } = await getPool().query<ListedRow>(sql`
    select ${listed}, ${BESIDE} ${FROM_CASES}
    where c.plant_id = ${viewer.plantId} and c.state = any(${states}::text[])
      and (${line}::text is null or l.key = ${line}) and (${since}::timestamptz is null or c.since_at >= ${since})
      and (${before}::int is null or c.number < ${before})
    order by c.number desc limit ${limit + 1}`);
  const page = rows.slice(0, limit);
  return { cases: page.map(itemOf), next: rows.length > limit ? (page.at(-1)?.number ?? null) : null };
}

const ofCase = streamColumns("st", ["id", "feature"]);

/** One thing that happened to a case; `by` is null where Shellgate did it. */
export type CaseHistoryEntry = {
  readonly id: string;
  readonly kind: CaseEntryKind;
  readonly at: string;
  readonly by: string | null;
  readonly text: string | null;
  readonly data: Readonly<Record<string, unknown>>;
};

export type CasePage = CaseListItem & {
  readonly entries: readonly CaseHistoryEntry[];
  /** Batches that it explains, held now or before. */
  readonly batches: readonly { readonly batch: string; readonly isHeld: boolean }[];
  /** Streams of its features, to look at. */
  readonly streams: readonly RowOf<typeof ofCase>[];
};

async function readEntries(plantId: string, caseId: string): Promise<CaseHistoryEntry[]> {
  const { rows } = await getPool().query<Omit<CaseHistoryEntry, "at"> & { at: Date }>(sql`
    select e.id, e.kind, e.at, e.text, e.data, ${nameThen("p", "e.at")} as by
    from case_entry e left join person p on p.plant_id = e.plant_id and p.id = e.person_id
    where e.plant_id = ${plantId} and e.case_id = ${caseId} order by e.at, e.id`);
  return rows.map(({ at, ...entry }) => ({ ...entry, at: at.toISOString() }));
}

const linked = batchColumns("b", { batch: "key" });

/**
 * One case with its history.
 *
 * @throws AppError not-found
 */
export async function readCase(viewer: Viewer, id: string): Promise<CasePage> {
  assertMay(viewer, "drift.view");
  const { plantId } = viewer;
  const { rows } = await getPool().query<ListedRow>(sql`
    select ${listed}, ${BESIDE} ${FROM_CASES} where c.plant_id = ${plantId} and c.id = ${id}`);
  const row = rows[0];
  if (row === undefined) throw new AppError("not-found", "There is no such case. Look it up under Drift.");
  const features = row.found.members.map(({ feature }) => feature);
  const [entries, batches, streams] = await Promise.all([
    readEntries(plantId, id),
    getPool().query<RowOf<typeof linked> & { isHeld: boolean }>(sql`
      select ${linked}, b.held_at is not null as "isHeld" from case_batch cb
      join batch b on b.plant_id = cb.plant_id and b.id = cb.batch_id
      where cb.plant_id = ${plantId} and cb.case_id = ${id} order by b.key`),
    getPool().query<RowOf<typeof ofCase>>(sql`
      select ${ofCase} from stream st join drift_case c on c.plant_id = st.plant_id and c.line_id = st.line_id
        and c.operation_id = st.operation_id and c.drawing_id = st.drawing_id
      where st.plant_id = ${plantId} and c.id = ${id} and st.feature = any(${features}::text[]) order by st.feature`),
  ]);
  return { ...itemOf(row), entries, batches: batches.rows, streams: streams.rows };
}

/** A case that explains a batch. */
export type CaseOfBatch = { readonly id: string; readonly number: number; readonly found: FoundCase };

const explaining = driftCaseColumns("c", ["id", "number", "found"]);

/** The cases that explain why a batch is held, the newest first. */
export async function casesOfBatch(viewer: Viewer, batchId: string): Promise<readonly CaseOfBatch[]> {
  assertMay(viewer, "gate.view");
  const { rows } = await getPool().query<RowOf<typeof explaining>>(sql`
    select ${explaining} from case_batch cb join drift_case c on c.plant_id = cb.plant_id and c.id = cb.case_id
    where cb.plant_id = ${viewer.plantId} and cb.batch_id = ${batchId} and c.state <> 'joined' order by c.number desc limit 10`);
  return rows;
}

/** The scheme in force: how many false cases a week the plant bears, spread over how many streams. */
export async function readAlarmScheme(
  viewer: Viewer,
): Promise<Omit<AlarmScheme, "streams"> & { readonly streams: number }> {
  assertMay(viewer, "drift.view");
  const [newest] = await readSchemes(getPool(), viewer.plantId);
  const none = { version: 0, budget: DEFAULT_BUDGET, expected: 0, reason: "first" } as const;
  return newest === undefined
    ? { ...none, streams: 0, effectiveFrom: new Date(0), createdAt: new Date(0) }
    : { ...newest, streams: newest.streams.length };
}
