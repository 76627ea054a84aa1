import "server-only";
import { AppError } from "@/lib/errors";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { TO_MEASURE_STATES } from "@/lib/quality/frame-state";
import type { PlanSettings } from "@/lib/schemas/setup";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { sql } from "../db/sql";

const iso = (time: Date | null): string | null => time?.toISOString() ?? null;

export type DrawingItem = {
  readonly id: string;
  readonly key: string;
  readonly title: string;
  readonly revisions: readonly {
    readonly id: string;
    readonly revision: string;
    readonly state: string;
    readonly releasedAt: string | null;
  }[];
};

/** Drawings with their revisions, newest first. */
export async function listDrawings(viewer: Viewer): Promise<readonly DrawingItem[]> {
  assertMay(viewer, "setup.view");
  const { rows } = await getPool().query<DrawingItem>(sql`
    select d.id, d.key, d.title, coalesce(jsonb_agg(jsonb_build_object('id', r.id, 'revision', r.revision, 'state', r.state,
      'releasedAt', r.released_at) order by r.created_at desc) filter (where r.id is not null), '[]') as revisions
    from drawing d left join drawing_revision r on r.plant_id = d.plant_id and r.drawing_id = d.id
    where d.plant_id = ${viewer.plantId} group by d.plant_id, d.id order by d.key`);
  return rows;
}

export type DrawingRevisionPage = {
  readonly id: string;
  readonly drawingKey: string;
  readonly revision: string;
  readonly state: string;
  readonly releasedAt: string | null;
  readonly releasedBy: string | null;
  /** Fingerprint of the content, for a change that must not write over another's. */
  readonly seen: string;
  readonly drawing: ShellDrawing;
  /** Name of the revision that was drafted last: the next one follows it. */
  readonly newestRevision: string;
  readonly others: readonly { readonly id: string; readonly revision: string; readonly state: string }[];
  /** Plans in force whose released revision is for another revision of this drawing. */
  readonly plansElsewhere: readonly { readonly id: string; readonly key: string; readonly drawingRevision: string }[];
};

/** One revision of a drawing. */
export async function getDrawingRevision(viewer: Viewer, id: string): Promise<DrawingRevisionPage> {
  assertMay(viewer, "setup.view");
  const { rows } = await getPool().query<Omit<DrawingRevisionPage, "releasedAt"> & { releasedAt: Date | null }>(sql`
    select r.id, d.key as "drawingKey", r.revision, r.state::text as state, r.released_at as "releasedAt", p.name as "releasedBy",
      r.content as drawing, md5(r.content::text) as seen,
      (select n.revision from drawing_revision n where n.plant_id = r.plant_id and n.drawing_id = r.drawing_id
        order by n.created_at desc, n.id desc limit 1) as "newestRevision",
      (select coalesce(jsonb_agg(jsonb_build_object('id', o.id, 'revision', o.revision, 'state', o.state) order by o.created_at desc), '[]')
        from drawing_revision o where o.plant_id = r.plant_id and o.drawing_id = r.drawing_id and o.id <> r.id) as others,
      (select coalesce(jsonb_agg(jsonb_build_object('id', mr.id, 'key', mp.key, 'drawingRevision', od.revision) order by mp.key), '[]')
        from measuring_plan_revision mr
        join measuring_plan mp on mp.plant_id = mr.plant_id and mp.id = mr.plan_id
        join drawing_revision od on od.plant_id = mr.plant_id and od.id = mr.drawing_revision_id
        where mr.plant_id = r.plant_id and mr.state = 'released' and mp.drawing_id = r.drawing_id and od.id <> r.id) as "plansElsewhere"
    from drawing_revision r
    join drawing d on d.plant_id = r.plant_id and d.id = r.drawing_id
    left join person p on p.plant_id = r.plant_id and p.id = r.released_by_id
    where r.plant_id = ${viewer.plantId} and r.id::text = ${id}`);
  const row = rows[0];
  if (!row) throw new AppError("not-found", "There is no such drawing revision. Choose one under Setup.");
  return { ...row, releasedAt: iso(row.releasedAt) };
}

export type PlanItem = {
  readonly id: string;
  readonly key: string;
  readonly title: string;
  readonly revision: string;
  readonly state: string;
  readonly drawingKey: string;
  readonly drawingRevision: string;
  readonly drawing: ShellDrawing;
  readonly readingNames: readonly string[];
  readonly frames: {
    readonly kind: string;
    readonly n?: number;
    readonly size?: number;
    readonly firstOff?: boolean;
  };
  readonly releasedAt: string | null;
};

/** Measuring plan revisions, released ones first. */
export async function listPlans(viewer: Viewer): Promise<readonly PlanItem[]> {
  assertMay(viewer, "setup.view");
  const { rows } = await getPool().query<Omit<PlanItem, "releasedAt"> & { releasedAt: Date | null }>(sql`
    select r.id, p.key, p.title, r.revision, r.state::text as state, d.key as "drawingKey", dr.revision as "drawingRevision",
      dr.content as drawing, r.reading_names as "readingNames", r.frames, r.released_at as "releasedAt"
    from measuring_plan_revision r
    join measuring_plan p on p.plant_id = r.plant_id and p.id = r.plan_id
    join drawing_revision dr on dr.plant_id = r.plant_id and dr.id = r.drawing_revision_id
    join drawing d on d.plant_id = dr.plant_id and d.id = dr.drawing_id
    where r.plant_id = ${viewer.plantId}
    order by p.key, r.state = 'released' desc, r.created_at desc`);
  return rows.map((row) => ({ ...row, releasedAt: iso(row.releasedAt) }));
}

export type PlanRevisionPage = PlanItem & {
  readonly drawingRevisionId: string;
  readonly drawingState: string;
  /** Fingerprint of the draft, for a change that must not write over another's. */
  readonly seen: string;
  readonly settings: PlanSettings;
  readonly revisions: readonly { readonly id: string; readonly revision: string; readonly state: string }[];
};

/** One revision of a measuring plan. @throws AppError not-found */
export async function getPlanRevision(viewer: Viewer, id: string): Promise<PlanRevisionPage> {
  assertMay(viewer, "setup.view");
  const { rows } = await getPool().query<Omit<PlanRevisionPage, "releasedAt"> & { releasedAt: Date | null }>(sql`
    select r.id, p.key, p.title, r.revision, r.state::text as state, d.key as "drawingKey", dr.revision as "drawingRevision",
      dr.id as "drawingRevisionId", dr.state::text as "drawingState", dr.content as drawing, r.reading_names as "readingNames",
      r.frames, r.settings, r.released_at as "releasedAt",
      md5(concat(r.reading_names::text, r.frames::text, r.settings::text)) as seen,
      (select coalesce(jsonb_agg(jsonb_build_object('id', o.id, 'revision', o.revision, 'state', o.state) order by o.created_at desc), '[]')
        from measuring_plan_revision o where o.plant_id = r.plant_id and o.plan_id = r.plan_id) as revisions
    from measuring_plan_revision r
    join measuring_plan p on p.plant_id = r.plant_id and p.id = r.plan_id
    join drawing_revision dr on dr.plant_id = r.plant_id and dr.id = r.drawing_revision_id
    join drawing d on d.plant_id = dr.plant_id and d.id = dr.drawing_id
    where r.plant_id = ${viewer.plantId} and r.id::text = ${id}`);
  const row = rows[0];
  if (!row) throw new AppError("not-found", "There is no such plan revision. Choose one under Setup.");
  return { ...row, releasedAt: iso(row.releasedAt) };
}

export type BatchItem = {
  readonly id: string;
  readonly key: string;
  readonly supplier: string;
  readonly model: string;
  readonly line: string;
  readonly plan: string;
  readonly frames: number;
  readonly firstSerial: string;
  readonly lastSerial: string;
  readonly openedAt: string;
};

/** The newest batches of the plant. */
export async function listNewestBatches(viewer: Viewer, limit: number = 20): Promise<readonly BatchItem[]> {
  assertMay(viewer, "setup.view");
  const { rows } = await getPool().query<Omit<BatchItem, "openedAt"> & { openedAt: Date }>(sql`
    select b.id, b.key, s.key as supplier, m.key as model, l.key as line, p.key as plan, f.frames, f.first as "firstSerial",
      f.last as "lastSerial", b.opened_at as "openedAt"
    from (select * from batch where plant_id = ${viewer.plantId} order by opened_at desc, id desc limit ${limit}) b
    join supplier s on s.plant_id = b.plant_id and s.id = b.supplier_id
    join frame_model m on m.plant_id = b.plant_id and m.id = b.model_id
    join line l on l.plant_id = b.plant_id and l.id = b.line_id
    join measuring_plan p on p.plant_id = b.plant_id and p.id = b.plan_id
    join lateral (select count(*)::int as frames, (array_agg(serial order by position))[1] as first,
      (array_agg(serial order by position desc))[1] as last from frame where plant_id = b.plant_id and batch_id = b.id) f on true
    order by b.opened_at desc, b.id desc`);
  return rows.map((row) => ({ ...row, openedAt: row.openedAt.toISOString() }));
}

export type GaugeItem = {
  readonly key: string;
  readonly name: string;
  readonly kind: string;
  readonly principle: string;
  readonly resolutionUm: number;
  /** What it can show: mm for bores and widths, µm of an indicator's travel; null where nobody entered it. */
  readonly rangeLower: number | null;
  readonly rangeUpper: number | null;
  /** Standard deviation of the same reading taken again; null where nobody knows it. */
  readonly repeatabilityUm: number | null;
  readonly inUse: boolean;
  readonly version: number;
  readonly station: string | null;
  readonly ring: string | null;
  readonly ringMm: number | null;
  /** U (k = 2) of its ring. */
  readonly ringUncertaintyUm: number | null;
  /** Newest first. */
  readonly calibrations: readonly {
    readonly at: string;
    readonly dueAt: string;
    readonly biasUm: number | null;
    readonly certificate: string | null;
  }[];
};

/** Gauges with their rings and calibrations. */
export async function listGauges(viewer: Viewer): Promise<readonly GaugeItem[]> {
  assertMay(viewer, "gauges.view");
  const { plantId } = viewer;
  const pool = getPool();
  const [gauges, calibrations] = await Promise.all([
    pool.query<Omit<GaugeItem, "calibrations"> & { id: string }>(sql`
      select g.id, g.key, g.name, g.kind, g.principle, g.resolution_um as "resolutionUm", g.active as "inUse", g.version,
        g.range_lower as "rangeLower", g.range_upper as "rangeUpper", g.repeatability_um as "repeatabilityUm",
        s.key as station, r.key as ring, r.certified_size_mm as "ringMm", r.uncertainty_um as "ringUncertaintyUm"
      from gauge g left join station s on s.plant_id = g.plant_id and s.id = g.station_id
      left join setting_ring r on r.plant_id = g.plant_id and r.id = g.ring_id
      where g.plant_id = ${plantId} order by g.active desc, g.key`),
    pool.query<{ gaugeId: string; at: Date; dueAt: Date; biasUm: number | null; certificate: string | null }>(sql`
      select gauge_id as "gaugeId", at, due_at as "dueAt", bias_um as "biasUm", certificate from calibration
      where plant_id = ${plantId} and gauge_id is not null order by at desc, id desc`),
  ]);
  return gauges.rows.map(({ id, ...gauge }) => ({
    ...gauge,
    calibrations: calibrations.rows
      .filter((one) => one.gaugeId === id)
      .map(({ at, dueAt, biasUm, certificate }) => ({
        at: at.toISOString(),
        dueAt: dueAt.toISOString(),
        biasUm,
        certificate,
      })),
  }));
}

export type RingItem = {
  readonly key: string;
  readonly certifiedSizeMm: number;
  readonly uncertaintyUm: number;
  readonly inUse: boolean;
  readonly version: number;
};

/** Setting rings by key, those out of use last. */
export async function listRings(viewer: Viewer): Promise<readonly RingItem[]> {
  assertMay(viewer, "gauges.view");
  const { rows } = await getPool().query<RingItem>(sql`
    select key, certified_size_mm as "certifiedSizeMm", uncertainty_um as "uncertaintyUm", active as "inUse", version
    from setting_ring where plant_id = ${viewer.plantId} order by active desc, key`);
  return rows;
}

export type OperationItem = {
  readonly key: string;
  readonly name: string;
  readonly position: number;
  readonly version: number;
};

/** Operations in the order of the route. */
export async function listOperations(viewer: Viewer): Promise<readonly OperationItem[]> {
  assertMay(viewer, "setup.view");
  const { rows } = await getPool().query<OperationItem>(
    sql`select key, name, position, version from operation where plant_id = ${viewer.plantId} order by position, key`,
  );
  return rows;
}

export type SetupOverview = {
  readonly lines: readonly {
    readonly key: string;
    readonly name: string;
    readonly inUse: boolean;
    readonly version: number;
    readonly stations: readonly {
      readonly key: string;
      readonly name: string;
      readonly operation: string;
      readonly viewingSide: "ds" | "nds";
      readonly inUse: boolean;
      readonly version: number;
    }[];
  }[];
  readonly suppliers: readonly {
    readonly key: string;
    readonly name: string;
    readonly inUse: boolean;
    readonly version: number;
    readonly batches: number;
  }[];
  readonly models: readonly {
    readonly key: string;
    readonly name: string;
    readonly inUse: boolean;
    readonly version: number;
    readonly drawing: string;
  }[];
};

/** Lines with their stations, suppliers and frame models of the plant, those out of use last. */
export async function getSetupOverview(viewer: Viewer): Promise<SetupOverview> {
  assertMay(viewer, "setup.view");
  const { plantId } = viewer;
  const pool = getPool();
  const [lines, suppliers, models] = await Promise.all([
    pool.query<SetupOverview["lines"][number]>(sql`
      select l.key, l.name, l.active as "inUse", l.version, coalesce(jsonb_agg(jsonb_build_object('key', s.key, 'name', s.name,
        'operation', o.name, 'viewingSide', s.viewing_side, 'inUse', s.active, 'version', s.version)
        order by s.active desc, s.key) filter (where s.id is not null), '[]') as stations
      from line l left join station s on s.plant_id = l.plant_id and s.line_id = l.id
      left join operation o on o.plant_id = s.plant_id and o.id = s.operation_id
      where l.plant_id = ${plantId} group by l.plant_id, l.id order by l.active desc, l.key`),
    pool.query<SetupOverview["suppliers"][number]>(sql`
      select s.key, s.name, s.active as "inUse", s.version, (select count(*)::int from batch b
        where b.plant_id = s.plant_id and b.supplier_id = s.id) as batches
      from supplier s where s.plant_id = ${plantId} order by s.active desc, s.key`),
    pool.query<SetupOverview["models"][number]>(sql`
      select m.key, m.name, m.active as "inUse", m.version, d.key as drawing
      from frame_model m join drawing d on d.plant_id = m.plant_id and d.id = m.drawing_id
      where m.plant_id = ${plantId} order by m.active desc, m.key`),
  ]);
  return { lines: lines.rows, suppliers: suppliers.rows, models: models.rows };
}

/** Frames of a line that are still to be measured, by themselves or again after rework. */
export async function countToMeasure(viewer: Viewer, line: string): Promise<number> {
  assertMay(viewer, "setup.view");
  const { rows } = await getPool().query<{ frames: number }>(sql`
    select count(*)::int as frames from line l
    join batch b on b.plant_id = l.plant_id and b.line_id = l.id
    join frame f on f.plant_id = b.plant_id and f.batch_id = b.id
    where l.plant_id = ${viewer.plantId} and l.key = ${line} and f.state = any(${TO_MEASURE_STATES}::"FrameState"[])`);
  return rows[0]?.frames ?? 0;
}

export type JournalItem = {
  readonly chain: string;
  readonly sequence: string;
  readonly at: string;
  readonly actor: string;
  readonly action: string;
  readonly rows: number;
  readonly payload: unknown;
  readonly hash: string;
  /** Whom the entry is about, where it names a person. */
  readonly about: string | null;
};

export type JournalPage = {
  readonly head: string | null;
  readonly anchoredAt: string | null;
  readonly entries: number;
  /** Every chain but the anchors, with the number of its entries. */
  readonly chains: readonly { readonly chain: string; readonly length: number }[];
  readonly newest: readonly JournalItem[];
};

/** Which entries: of one chain only, and of that one only those before a number. */
export type JournalWanted = {
  readonly chain?: string | undefined;
  readonly before?: number | undefined;
  readonly limit?: number;
};

const MOST_ENTRIES = 500;

/** The newest entries of the journal and its newest anchor, of which a copy belongs outside. */
export async function getJournal(viewer: Viewer, wanted: JournalWanted = {}): Promise<JournalPage> {
  assertMay(viewer, "journal.view");
  const { plantId } = viewer;
  const { chain = null, before = null, limit = 100 } = wanted;
  const pool = getPool();
  const [newest, anchor, chains] = await Promise.all([
    pool.query<Omit<JournalItem, "at"> & { at: Date }>(sql`
      select e.chain, e.sequence::text as sequence, e.at, coalesce(p.name, t.name, e.actor) as actor, e.action,
        jsonb_array_length(e.subjects) as rows, e.payload, encode(e.hash, 'hex') as hash, about.name as about
      from journal_entry e
      left join person p on p.plant_id = e.plant_id and e.actor = 'person:' || p.id
      left join api_token t on t.plant_id = e.plant_id and e.actor = 'token:' || t.id
      left join person about on about.plant_id = e.plant_id and e.payload ->> 'personId' = about.id::text
      where e.plant_id = ${plantId} and e.chain <> 'anchor' and (${chain}::text is null or e.chain = ${chain})
        and (${chain}::text is null or ${before}::bigint is null or e.sequence < ${before})
      order by e.at desc, e.chain, e.sequence desc limit ${Math.min(limit, MOST_ENTRIES)}`),
    pool.query<{ hash: string; at: Date }>(sql`
      select encode(hash, 'hex') as hash, at from journal_entry
      where plant_id = ${plantId} and chain = 'anchor' order by sequence desc limit 1`),
    pool.query<{ chain: string; length: number }>(
      sql`select chain, length::int as length from journal_chain where plant_id = ${plantId} order by chain`,
    ),
  ]);
  return {
    head: anchor.rows[0]?.hash ?? null,
    anchoredAt: iso(anchor.rows[0]?.at ?? null),
    entries: chains.rows.reduce((sum, one) => sum + one.length, 0),
    chains: chains.rows.filter((one) => one.chain !== "anchor" && one.length > 0),
    newest: newest.rows.map((row) => ({ ...row, at: row.at.toISOString() })),
  };
}

export type PlantHead = {
  readonly name: string;
  readonly timeZone: string;
  readonly invented: boolean;
  readonly version: number;
};

/** Name and time zone of the plant. @throws AppError forbidden */
export async function getPlant(viewer: Viewer): Promise<PlantHead> {
  assertMay(viewer, "setup.view");
  const { rows } = await getPool().query<PlantHead>(
    sql`select name, time_zone as "timeZone", invented, version from plant where id = ${viewer.plantId}`,
  );
  if (!rows[0]) throw new AppError("not-found", "There is no such plant.");
  return rows[0];
}

/** Time zone in which the plant's dates are written. */
export async function getPlantZone(viewer: Viewer): Promise<string> {
  const { rows } = await getPool().query<{ zone: string }>(
    sql`select time_zone as zone from plant where id = ${viewer.plantId}`,
  );
  return rows[0]?.zone ?? "UTC";
}
