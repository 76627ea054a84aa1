import "server-only";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { calibrationColumns } from "../db/columns/calibration";
import { gaugeColumns } from "../db/columns/gauge";
import { settingRingColumns } from "../db/columns/setting-ring";
import { stationColumns } from "../db/columns/station";
import { type RowOf, orNull, together } from "../db/columns/table-columns";
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

const listed = together(
  gaugeColumns("g", [
    "id",
    "key",
    "name",
    "kind",
    "principle",
    "resolutionUm",
    "version",
    "rangeLower",
    "rangeUpper",
    "repeatabilityUm",
  ]),
  gaugeColumns("g", { inUse: "active" }),
  orNull(stationColumns("s", { station: "key" })),
  orNull(settingRingColumns("r", { ring: "key", ringMm: "certifiedSizeMm", ringUncertaintyUm: "uncertaintyUm" })),
);
const calibrated = calibrationColumns("calibration", ["gaugeId", "at", "dueAt", "biasUm", "certificate"]);
const ringColumns = settingRingColumns("setting_ring", {
  key: "key",
  certifiedSizeMm: "certifiedSizeMm",
  uncertaintyUm: "uncertaintyUm",
  inUse: "active",
  version: "version",
});

/** Gauges with their rings and calibrations. */
export async function listGauges(viewer: Viewer): Promise<readonly GaugeItem[]> {
  assertMay(viewer, "gauges.view");
  const { plantId } = viewer;
  const pool = getPool();
  const [gauges, calibrations] = await Promise.all([
    pool.query<RowOf<typeof listed>>(sql`
      select ${listed}
      from gauge g left join station s on s.plant_id = g.plant_id and s.id = g.station_id
      left join setting_ring r on r.plant_id = g.plant_id and r.id = g.ring_id
      where g.plant_id = ${plantId} order by g.active desc, g.key`),
    pool.query<RowOf<typeof calibrated>>(sql`
      select ${calibrated} from calibration
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
  const { rows } = await getPool().query<RowOf<typeof ringColumns>>(sql`
    select ${ringColumns}
    from setting_ring where plant_id = ${viewer.plantId} order by active desc, key`);
  return rows;
}
