import "server-only";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { sql } from "../db/sql";

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
