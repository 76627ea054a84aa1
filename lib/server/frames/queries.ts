import "server-only";
import { AppError } from "@/lib/errors";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import type { FrameMeasurement } from "@/lib/core/metrology/measure-frame";
import type { BarPassage, PlugFeel, ReadingName } from "@/lib/core/metrology/reading-name";
import { FELT_SUBJECTS, type FeltSubject } from "@/lib/core/metrology/felt-subject";
import type { FrameState } from "@/lib/quality/frame-state";
import { toldJudgement } from "@/lib/format/judging-words";
import type { ToldJudgement } from "@/lib/quality/judge-frame";
import { judgeOperations } from "@/lib/quality/judge-operations";
import type { Verdict } from "@/lib/quality/verdict-words";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { nameThen } from "../db/name-then";
import { batchColumns } from "../db/columns/batch";
import { drawingRevisionColumns } from "../db/columns/drawing-revision";
import { frameColumns } from "../db/columns/frame";
import { frameModelColumns } from "../db/columns/frame-model";
import { inspectionColumns } from "../db/columns/inspection";
import { lineColumns } from "../db/columns/line";
import { operationColumns } from "../db/columns/operation";
import { personColumns } from "../db/columns/person";
import { stationColumns } from "../db/columns/station";
import { supplierColumns } from "../db/columns/supplier";
import { type RowOf, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { askedOf } from "../evidence/batch-plan";
import { READING_STATES, type ReadingState } from "@/lib/schemas/inspection";
import {
  evidenceColumns,
  type EvidenceRow,
  measuredElsewhere,
  type SignedSide,
  signedSides,
  type StoredInspection,
  storedEvidence,
} from "../evidence/stored-evidence";
import { getReferenceData, type PlanReference } from "../evidence/reference-data";
import { FRAMES_WORDS } from "./words";

const words = FRAMES_WORDS.queries;

export type FrameInspection = {
  readonly id: string;
  readonly ordinal: number;
  readonly station: string;
  readonly line: string;
  readonly operation: string;
  readonly inspector: string | null;
  readonly device: string | null;
  readonly plan: string;
  readonly planRevision: string;
  readonly drawingRevision: string;
  readonly gauges: readonly string[];
  readonly measuredAt: string;
  readonly recordedAt: string;
  readonly deviceTime: string;
  readonly reason: string | null;
  readonly readings: readonly {
    readonly name: string;
    readonly value: number | null;
    readonly gauge: string | null;
    readonly state: ReadingState;
    /** Who took it, where several measured. */
    readonly inspector: string | null;
  }[];
  readonly superseded: readonly {
    readonly index: number;
    readonly value: number | null;
    readonly word?: PlugFeel | BarPassage;
    readonly reason: string;
    readonly offsetMs: number;
    /** Who keyed the value, where several measured. */
    readonly inspector: string | null;
  }[];
  readonly attributes: Readonly<Record<string, unknown>>;
  readonly verdict: Verdict;
  readonly withdrawal: { readonly person: string; readonly reason: string; readonly at: string } | null;
  readonly coreVersion: string;
  /** Keys of its photos, in the order in which they came. */
  readonly photos: readonly string[];
};

export type FrameHistoryEntry = {
  readonly at: string;
  readonly what: string;
  readonly who: string | null;
  readonly text: string;
};

export type FrameRecord = {
  readonly serial: string;
  readonly state: FrameState;
  readonly verdict: Verdict | null;
  /** Version of the computations by which the stored verdict was made; this record is computed by the present one. */
  readonly judgedBy: string | null;
  readonly mould: string | null;
  readonly position: number;
  readonly batch: {
    readonly id: string;
    readonly key: string;
    readonly supplier: string;
    readonly model: string;
    readonly held: boolean;
  };
  readonly line: string;
  readonly shippedAt: string | null;
  readonly concessionUntil: string | null;
  readonly leaseDeviceId: string | null;
  readonly drawing: ShellDrawing | null;
  /** Features and judgement of all valid inspections together, computed again from the readings. */
  readonly measurement: FrameMeasurement | null;
  readonly judgement: ToldJudgement | null;
  /** The plan's readings that indices in the measurement's warnings count. */
  readonly readingNames: readonly ReadingName[];
  /** Valid inspections of the operations at which two disagree or one contradicts itself, oldest first; [] where none do. */
  readonly disagreeing: readonly { readonly id: string; readonly label: string; readonly verdict: Verdict }[];
  /** What was felt against what was read, where nothing has settled it: by whose plugs or bars, and in which inspections. */
  readonly contradicting: readonly { readonly of: FeltSubject; readonly labels: readonly string[] }[];
  /** Valid inspections that the judgement rests on. */
  readonly judgedOn: number;
  /** Those of one page, oldest first; pages are counted from 1, and the last one holds the newest. */
  readonly inspections: readonly FrameInspection[];
  readonly inspectionCount: number;
  readonly page: number;
  readonly pages: number;
  /** The newest that was not withdrawn, whatever page is shown. */
  readonly newest: FrameInspection | null;
  /** The newest decisions and ship scans, oldest first. */
  readonly history: readonly FrameHistoryEntry[];
  readonly escapes: readonly { readonly reason: string; readonly openedAt: string; readonly closedAt: string | null }[];
};

const headColumns = together(
  frameColumns("f", [
    "id",
    "serial",
    "state",
    "verdict",
    "judgedBy",
    "mould",
    "position",
    "shippedAt",
    "concessionUntil",
    "evidenceFrom",
    "leaseDeviceId",
  ]),
  batchColumns("b", { batchId: "id", batchKey: "key", planId: "planId" }),
  supplierColumns("s", { supplier: "name" }),
  frameModelColumns("m", { model: "name" }),
  lineColumns("l", { line: "key" }),
);
type HeadRow = RowOf<typeof headColumns> & { readonly held: boolean };

/** Columns of an inspection `i` that its record shows beside those that it is judged by. */
const recordColumns = inspectionColumns("i", [
  "recordedAt",
  "deviceTime",
  "reason",
  "superseded",
  "verdict",
  "coreVersion",
]);
const aroundInspection = together(
  inspectionColumns("i", { device: "deviceId" }),
  stationColumns("st", { station: "name" }),
  lineColumns("l", { line: "key" }),
  operationColumns("o", { operation: "name" }),
  drawingRevisionColumns("r", { drawingRevision: "revision" }),
);

/** What a record shows of a reading that another one took the place of, as it is stored. */
type Superseded = Omit<FrameInspection["superseded"][number], "inspector"> & { readonly personId?: string };

type InspectionRow = EvidenceRow &
  RowOf<typeof recordColumns> &
  RowOf<typeof aroundInspection> & {
    superseded: readonly Superseded[];
    attributes: Record<string, unknown> & {
      readonly inspectors?: readonly { readonly from: number; readonly personId: string }[];
    };
    photos: string[];
    inspector: string | null;
    withdrawnBy: string | null;
    sides: SignedSide[];
    elsewhere: StoredInspection["elsewhere"];
    withdrawalReason: string | null;
    withdrawnAt: Date | null;
  };

const named = personColumns("person", ["id", "name"]);

/** Names of everybody whom the readings of some inspections name. */
async function readInspectorNames(
  plantId: string,
  rows: readonly InspectionRow[],
): Promise<ReadonlyMap<string, string>> {
  const ids = rows.flatMap(({ attributes, superseded }) => [
    ...(attributes.inspectors ?? []).map(({ personId }) => personId),
    ...superseded.flatMap(({ personId }) => personId ?? []),
  ]);
  if (ids.length === 0) return new Map();
  const { rows: people } = await getPool().query<RowOf<typeof named>>(sql`
    select ${named} from person where plant_id = ${plantId} and id = any(${[...new Set(ids)]}::uuid[])`);
  return new Map(people.map(({ id, name }) => [id, name]));
}

async function findFrame(plantId: string, serial: string): Promise<HeadRow | null> {
  const { rows } = await getPool().query<HeadRow>(sql`
    select ${headColumns}, b.held_at is not null as held
    from frame f
    join batch b on b.plant_id = f.plant_id and b.id = f.batch_id
    join supplier s on s.plant_id = b.plant_id and s.id = b.supplier_id
    join frame_model m on m.plant_id = b.plant_id and m.id = b.model_id
    join line l on l.plant_id = b.plant_id and l.id = b.line_id
    where f.plant_id = ${plantId} and f.serial = ${serial}`);
  return rows[0] ?? null;
}

async function readInspections(plantId: string, frameId: string): Promise<InspectionRow[]> {
  const { rows } = await getPool().query<InspectionRow>(sql`
    select ${evidenceColumns}, ${recordColumns}, ${aroundInspection},
      ${nameThen("p", "i.measured_at")} as inspector, ${nameThen("wp", "w.at")} as "withdrawnBy",
      array(select a.id::text from attachment a where a.plant_id = i.plant_id and a.inspection_id = i.id order by a.at, a.id) as photos,
      ${signedSides} as sides,
      ${measuredElsewhere} as elsewhere,
      w.reason as "withdrawalReason", w.at as "withdrawnAt"
    from inspection i
    join batch b on b.plant_id = i.plant_id and b.id = i.batch_id
    join station st on st.plant_id = i.plant_id and st.id = i.station_id
    join line l on l.plant_id = i.plant_id and l.id = i.line_id
    join operation o on o.plant_id = i.plant_id and o.id = i.operation_id
    join drawing_revision r on r.plant_id = i.plant_id and r.id = i.drawing_revision_id
    left join person p on p.plant_id = i.plant_id and p.id = i.inspector_id
    left join inspection_withdrawal w on w.plant_id = i.plant_id and w.inspection_id = i.id
    left join person wp on wp.plant_id = w.plant_id and wp.id = w.person_id
    where i.plant_id = ${plantId} and i.frame_id = ${frameId} order by i.measured_at, i.id`);
  return rows;
}

/** Inspections on one page of a record, and decisions and ship scans that it shows: a page has to stay one that can be read. */
const INSPECTIONS_A_PAGE = 10;
export const MOST_HISTORY = 200;

/** What is decided about a batch says nothing of a frame that had left it: one that went back was never released with the rest. */
const hasLeftBefore = (plantId: string, { id, serial }: HeadRow) => sql`
  select 1 from decision g where g.plant_id = ${plantId} and ${id}::uuid = any(g.frame_ids) and g.at <= d.at
    and g.kind in ('return_to_supplier', 'scrap')
  union all
  select 1 from shipment s where s.plant_id = ${plantId} and s.serial = ${serial} and s.answer = 'shipped' and s.at <= d.at`;

async function readHistory(plantId: string, head: HeadRow): Promise<FrameHistoryEntry[]> {
  const { rows } = await getPool().query<{ at: Date; what: string; who: string | null; text: string }>(sql`
    select d.at, case when cardinality(d.frame_ids) = 0 then 'batch: ' || d.kind::text else d.kind::text end as what,
        ${nameThen("p", "d.at")} as who, d.grounds as text from decision d
      join person p on p.plant_id = d.plant_id and p.id = d.person_id
      where d.plant_id = ${plantId} and (${head.id}::uuid = any(d.frame_ids)
        or (d.batch_id = ${head.batchId} and cardinality(d.frame_ids) = 0 and not exists (${hasLeftBefore(plantId, head)})))
    union all
    select s.at, 'ship scan: ' || s.answer, ${nameThen("p", "s.at")},
        coalesce((select string_agg(r ->> 'text', ' ') from jsonb_array_elements(s.reasons) r), '')
      from shipment s left join person p on p.plant_id = s.plant_id and p.id = s.person_id
      where s.plant_id = ${plantId} and s.serial = ${head.serial}
    order by at desc limit ${MOST_HISTORY}`);
  return rows.reverse().map((row) => ({ ...row, at: row.at.toISOString() }));
}

function toInspection(
  row: InspectionRow,
  plan: PlanReference | undefined,
  nameOf: (id: string | undefined) => string | null,
): FrameInspection {
  return {
    id: row.id,
    ordinal: row.ordinal,
    station: row.station,
    line: row.line,
    operation: row.operation,
    inspector: row.inspector,
    device: row.device,
    plan: plan?.planKey ?? "",
    planRevision: plan?.revision ?? "",
    drawingRevision: row.drawingRevision,
    gauges: row.gaugeKeys,
    measuredAt: row.measuredAt.toISOString(),
    recordedAt: row.recordedAt.toISOString(),
    deviceTime: row.deviceTime.toISOString(),
    reason: row.reason,
    readings: row.readings.map((value, index) => ({
      name: plan?.readingNames[index] ?? `reading ${index + 1}`,
      value,
      gauge: row.gaugeKeys[row.gauges[index] ?? -1] ?? null,
      state: READING_STATES[row.states[index] ?? 0] ?? "measured",
      inspector: nameOf(row.attributes.inspectors?.findLast(({ from }) => from <= index)?.personId),
    })),
    superseded: row.superseded.map(({ personId, ...one }) => ({ ...one, inspector: nameOf(personId) })),
    attributes: row.attributes,
    verdict: row.verdict,
    coreVersion: row.coreVersion,
    photos: row.photos,
    withdrawal:
      row.withdrawnAt === null
        ? null
        : { person: row.withdrawnBy ?? "", reason: row.withdrawalReason ?? "", at: row.withdrawnAt.toISOString() },
  };
}

/**
 * Everything about one frame: verdict of all inspections computed again, one page of them with every reading, decisions, ship
 * scans.
 *
 * @param page - from 1; the last page, with the newest inspections, where it is left out or does not exist
 * @throws AppError not-found
 */
export async function getFrameRecord(viewer: Viewer, serial: string, page?: number): Promise<FrameRecord> {
  assertMay(viewer, "records.view");
  const { plantId } = viewer;
  const head = await findFrame(plantId, serial);
  if (!head) throw new AppError("not-found", words.noFrameHasSerial(serial));
  const [rows, history, escapes, reference] = await Promise.all([
    readInspections(plantId, head.id),
    readHistory(plantId, head),
    getPool().query<{ reason: string; openedAt: Date; closedAt: Date | null }>(sql`
      select reason, opened_at as "openedAt", closed_at as "closedAt" from escape
      where plant_id = ${plantId} and frame_id = ${head.id} order by opened_at`),
    getReferenceData(plantId),
  ]);
  const names = await readInspectorNames(plantId, rows);
  const nameOf = (id: string | undefined): string | null => (id === undefined ? null : (names.get(id) ?? null));
  const valid = rows.filter(
    (row) => row.withdrawnAt === null && (head.evidenceFrom === null || row.measuredAt > head.evidenceFrom),
  );
  const named = valid.flatMap((row) => {
    const plan = reference.plans.get(row.planRevisionId);
    return plan ? [storedEvidence({ ...row, batchPlanId: head.planId }, plan, reference)] : [];
  });
  const last = named.at(-1);
  // Of several operations the one with the worst verdict is shown: it decides about the frame.
  const evidence = judgeOperations(named, askedOf(head.planId, reference));
  const shown = evidence?.shown ?? null;
  const ownVerdict = new Map(rows.map(({ id, verdict }) => [id, verdict]));
  const pages = Math.max(1, Math.ceil(rows.length / INSPECTIONS_A_PAGE));
  const shownPage = page !== undefined && page >= 1 && page <= pages ? page : pages;
  const toShown = (row: InspectionRow) => toInspection(row, reference.plans.get(row.planRevisionId), nameOf);
  const newest = rows.findLast((row) => row.withdrawnAt === null);
  return {
    serial: head.serial,
    state: head.state,
    verdict: head.verdict,
    judgedBy: head.judgedBy,
    mould: head.mould,
    position: head.position,
    batch: { id: head.batchId, key: head.batchKey, supplier: head.supplier, model: head.model, held: head.held },
    line: head.line,
    shippedAt: head.shippedAt?.toISOString() ?? null,
    concessionUntil: head.concessionUntil?.toISOString() ?? null,
    leaseDeviceId: head.leaseDeviceId,
    drawing: (shown?.shown ?? last)?.drawing ?? null,
    measurement: shown?.measurement ?? null,
    judgement: shown === null ? null : toldJudgement(shown.judgement),
    readingNames: (shown?.shown ?? last)?.plan.names ?? [],
    disagreeing: named
      .filter(({ operationId }) => evidence?.disagreeing.includes(operationId) === true)
      .map(({ key, label }) => ({ id: key, label, verdict: ownVerdict.get(key) ?? "not measured" })),
    contradicting: FELT_SUBJECTS.map((of) => ({
      of,
      labels: (evidence?.contradicting ?? []).filter(({ subject }) => subject === of).map(({ label }) => label),
    })).filter(({ labels }) => labels.length > 0),
    judgedOn: shown?.inspections ?? 0,
    inspections: rows.slice((shownPage - 1) * INSPECTIONS_A_PAGE, shownPage * INSPECTIONS_A_PAGE).map(toShown),
    inspectionCount: rows.length,
    page: shownPage,
    pages,
    newest: newest === undefined ? null : toShown(newest),
    history,
    escapes: escapes.rows.map((row) => ({
      reason: row.reason,
      openedAt: row.openedAt.toISOString(),
      closedAt: row.closedAt?.toISOString() ?? null,
    })),
  };
}

export type SearchHit = {
  readonly kind: "frame" | "batch" | "stream" | "escape";
  readonly label: string;
  readonly detail: string;
  readonly href: string;
};

const HITS = 20;
/** Characters from which on a part in the middle of a name is found: an index holds every run of so many. */
const SHORTEST_PART = 3;
/** Frames that are looked at for the best hits: a part that more of them have narrows nothing. */
const CANDIDATES = 100;
/**
 * Runs of a text that the index is asked for, those that the fewest of some serials have: what every serial begins with
 * narrows nothing, and its list is as long as the plant is old.
 */
const RAREST = 3;
/** Serials from either end of the order by which the rarity of a run is told. */
const TELLING = 25;

/**
 * Frames, batches and streams whose serial, key or name contains a text; an exact serial comes first, then those that begin
 * with it. What is shorter than SHORTEST_PART is found at the beginning only.
 */
export async function searchEverything(viewer: Viewer, text: string): Promise<readonly SearchHit[]> {
  assertMay(viewer, "records.view");
  const wanted = text.trim();
  if (wanted === "") return [];
  const escaped = wanted.replaceAll(/[\\%_]/g, (sign) => `\\${sign}`);
  const [anywhere, ahead] = [`%${escaped}%`, `${escaped.toLowerCase()}%`];
  const { plantId } = viewer;
  const isPart = wanted.length >= SHORTEST_PART;
  const { rows } = await getPool().query<SearchHit & { rank: number }>(sql`
    with ahead as materialized (
      select f.serial, f.state, f.batch_id from frame f
        where f.plant_id = ${plantId} and lower(f.serial) collate "C" like ${ahead} order by lower(f.serial) collate "C" limit ${HITS}
    ), telling as materialized (
      (select lower(f.serial) as serial from frame f where f.plant_id = ${plantId}
        order by lower(f.serial) collate "C" limit ${TELLING})
      union all
      (select lower(f.serial) from frame f where f.plant_id = ${plantId}
        order by lower(f.serial) collate "C" desc limit ${TELLING})
    ), rare as materialized (
      select array(select g.gram from unnest(text_grams(${wanted})) as g(gram)
        order by (select count(*) from telling t where strpos(t.serial, g.gram) > 0), g.gram limit ${RAREST}) as grams
    ), frames as (
      (select f.serial, f.state, f.batch_id, 0 as rank from frame f where f.plant_id = ${plantId} and f.serial = ${wanted})
      union all
      (select f.serial, f.state, f.batch_id, 1 from ahead f)
      union all
      (select f.serial, f.state, f.batch_id, 2 from frame f
        where ${isPart} and (select count(*) from ahead) < ${HITS}
          and f.plant_id = ${plantId} and text_grams(f.serial) @> (select grams from rare) and f.serial ilike ${anywhere}
        limit ${CANDIDATES})
    ), batches as (
      (select b.key, b.supplier_id, b.opened_at from batch b
        where b.plant_id = ${plantId} and lower(b.key) collate "C" like ${ahead} order by lower(b.key) collate "C" limit ${HITS})
      union
      (select b.key, b.supplier_id, b.opened_at from batch b
        where ${isPart} and b.plant_id = ${plantId} and text_grams(b.key) @> text_grams(${wanted}) and b.key ilike ${anywhere}
        limit ${CANDIDATES})
      union
      (select n.key, n.supplier_id, n.opened_at from supplier s cross join lateral
        (select b.key, b.supplier_id, b.opened_at from batch b where b.plant_id = s.plant_id and b.supplier_id = s.id
          order by b.opened_at desc limit ${HITS}) n
        where s.plant_id = ${plantId} and s.name ilike ${anywhere})
    )
    (select 'frame' as kind, f.serial as label, concat('frame, ', f.state::text, ', batch ', b.key) as detail,
        '/frames/' || f.serial as href, min(f.rank) as rank
      from frames f join batch b on b.plant_id = ${plantId} and b.id = f.batch_id
      group by f.serial, f.state, b.key order by min(f.rank), f.serial limit ${HITS})
    union all
    (select 'batch', b.key, concat('batch of ', s.name), '/gate/batches/' || b.key, 3
      from batches b join supplier s on s.plant_id = ${plantId} and s.id = b.supplier_id order by b.opened_at desc limit ${HITS})
    union all
    (select 'escape', f.serial, concat('escape, shipped and in doubt: ', e.reason), '/gate/escapes', 1
      from frames h join frame f on f.plant_id = ${plantId} and f.serial = h.serial
      join escape e on e.plant_id = f.plant_id and e.frame_id = f.id and e.closed_at is null
      group by f.serial, e.reason order by f.serial, e.reason limit ${HITS})
    union all
    (select 'escape', 'Escapes', concat(count(distinct e.frame_id), ' shipped frames in doubt'), '/gate/escapes', 0
      from escape e where e.plant_id = ${plantId} and e.closed_at is null
        and ${isPart} and 'escapes' like ${ahead} having count(*) > 0)
    union all
    (select 'stream', concat(l.key, ' ', replace(st.feature, '.', ' ')), concat('stream, ', st.points, ' frames'), '/drift/streams/' || st.id, 4
      from stream st join line l on l.plant_id = st.plant_id and l.id = st.line_id
      where st.plant_id = ${plantId} and st.points > 0 and concat(l.key, ' ', replace(st.feature, '.', ' ')) ilike ${anywhere}
      order by l.key, st.feature limit ${HITS})`);
  return rows.map(({ rank: _rank, ...hit }) => hit);
}
