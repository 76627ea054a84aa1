import "server-only";
import { AppError } from "@/lib/errors";
import type { GaugeRange } from "@/lib/core/metrology/gauge-range";
import { zeroLimitUm } from "@/lib/core/metrology/comparator";
import { OPEN_STATES } from "@/lib/quality/frame-state";
import { isFramePlanned, type PlannedFrames } from "@/lib/core/sampling/planned-frames";
import type {
  StationBatch,
  StationFrame,
  StationGauge,
  StationItem,
  StationPackage,
} from "@/lib/schemas/station-package";
import { calibrationInForce, isCalibrated, type CalibrationSpan } from "@/lib/core/metrology/calibration-in-force";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { calibrationsOfGauge } from "../evidence/calibrations";
import { DRIFT_ROUNDING_UM } from "../evidence/suspect-spans";
import { getPool } from "../db/client";
import { batchColumns } from "../db/columns/batch";
import { batchSampleColumns } from "../db/columns/batch-sample";
import { drawingRevisionColumns } from "../db/columns/drawing-revision";
import { frameColumns } from "../db/columns/frame";
import { frameModelColumns } from "../db/columns/frame-model";
import { gaugeColumns } from "../db/columns/gauge";
import { lineColumns } from "../db/columns/line";
import { measuringPlanColumns } from "../db/columns/measuring-plan";
import { measuringPlanRevisionColumns } from "../db/columns/measuring-plan-revision";
import { operationColumns } from "../db/columns/operation";
import { personColumns } from "../db/columns/person";
import { settingRingColumns } from "../db/columns/setting-ring";
import { stationColumns } from "../db/columns/station";
import { supplierColumns } from "../db/columns/supplier";
import { type RowOf, orNull, together } from "../db/columns/table-columns";
import { zeroCheckColumns } from "../db/columns/zero-check";
import { sql } from "../db/sql";
import { BATCH_LEASE_MINUTES } from "./batch-lease";
import { inspectionsHere } from "./inspections-here";
import { whyStationClosed } from "./station-in-use";
import { drawSample } from "./draw-sample";
import { LINE_WORDS } from "./words";

const words = LINE_WORDS.queries;

const stationInUse = together(
  stationColumns("s", ["id", "key", "name", "viewingSide"]),
  lineColumns("l", { line: "key", lineId: "id" }),
  operationColumns("o", { operation: "name" }),
);

/** Stations in use, by line. */
export async function listStations(viewer: Viewer): Promise<readonly StationItem[]> {
  assertMay(viewer, "line.view");
  const { rows } = await getPool().query<RowOf<typeof stationInUse>>(sql`
    select ${stationInUse}
    from station s
    join line l on l.plant_id = s.plant_id and l.id = s.line_id
    join operation o on o.plant_id = s.plant_id and o.id = s.operation_id
    where s.plant_id = ${viewer.plantId} and s.active and l.active order by l.key, o.position, s.key`);
  return rows;
}

const OPEN_BATCHES = 60;

const gaugeInUse = together(
  gaugeColumns("g", ["key", "name", "kind", "principle", "resolutionUm", "repeatabilityUm"]),
  orNull(settingRingColumns("ring", { ring: "key", ringMm: "certifiedSizeMm", ringUncertaintyUm: "uncertaintyUm" })),
  orNull(zeroCheckColumns("last", { lastAt: "at", lastDriftUm: "driftUm" })),
);
type GaugeRow = RowOf<typeof gaugeInUse> & {
  readonly range: GaugeRange | null;
  readonly calibrations: readonly CalibrationSpan[];
  readonly lastGoodAt: Date | null;
};

function calibratedUntil(calibrations: readonly CalibrationSpan[], now: Date): string | null {
  const inForce = calibrationInForce(calibrations, now.getTime());
  return inForce === null ? null : new Date(inForce.dueMs).toISOString();
}

/** Gauges in use at the station, with their calibration and how their last zero checks came out. */
async function listStationGauges(plantId: string, stationId: string, now: Date): Promise<readonly StationGauge[]> {
  const { rows } = await getPool().query<GaugeRow>(sql`
    select ${gaugeInUse},
      case when g.range_lower is not null then json_build_object('lower', g.range_lower, 'upper', g.range_upper) end as range,
      ${calibrationsOfGauge} as calibrations,
      (select max(z.at) from zero_check z
        where z.plant_id = g.plant_id and z.gauge_id = g.id
          and abs(z.drift_um) <= z.limit_um + ${DRIFT_ROUNDING_UM}::float8) as "lastGoodAt"
    from gauge g
    left join setting_ring ring on ring.plant_id = g.plant_id and ring.id = g.ring_id
    left join lateral (select z.at, z.drift_um from zero_check z
      where z.plant_id = g.plant_id and z.gauge_id = g.id order by z.at desc, z.id desc limit 1) last on true
    where g.plant_id = ${plantId} and g.active and (g.station_id is null or g.station_id = ${stationId})
    order by g.kind, g.key`);
  return rows.map(
    ({ ring, lastAt, lastDriftUm, lastGoodAt: lastGoodCheck, ringUncertaintyUm, repeatabilityUm, ...gauge }) => {
      // A calibration is a good check, too.
      const calibratedMs = calibrationInForce(gauge.calibrations, now.getTime())?.atMs ?? null;
      const isNewer = calibratedMs !== null && (lastGoodCheck === null || lastGoodCheck.getTime() < calibratedMs);
      const lastGoodAt = isNewer ? new Date(calibratedMs) : lastGoodCheck;
      return {
        ...gauge,
        calibratedUntil: calibratedUntil(gauge.calibrations, now),
        overdue: !isCalibrated(gauge.calibrations, now.getTime()),
        zeroFailed: lastAt !== null && (lastGoodAt === null || lastGoodAt < lastAt),
        zero:
          ring === null
            ? null
            : {
                ring,
                limitUm: zeroLimitUm({ ...gauge, ringUncertaintyUm, repeatabilityUm }),
                lastAt: lastAt?.toISOString() ?? null,
                lastGoodAt: lastGoodAt?.toISOString() ?? null,
                lastDriftUm,
              },
      };
    },
  );
}

const openBatch = together(
  batchColumns("b", ["id", "key", "planId"]),
  supplierColumns("s", { supplier: "name" }),
  frameModelColumns("m", { model: "name" }),
);
const badge = personColumns("p", ["name", "badgeCode"]);
const signedInAs = personColumns("person", ["name"]);
const planInForce = together(
  measuringPlanRevisionColumns("r", { planRevisionId: "id" }),
  measuringPlanRevisionColumns("r", ["revision", "readingNames", "frames", "settings"]),
  measuringPlanColumns("p", { planId: "id", planKey: "key", title: "title", drawingId: "drawingId" }),
  drawingRevisionColumns("d", { drawing: "content" }),
);

/**
 * What a station works with: its line's batches that are not all measured or gone, their plans and drawings, its gauges.
 *
 * @throws AppError not-found; refused where the station or its line is out of use
 */
export async function getStationPackage(
  viewer: Viewer,
  stationId: string,
  now: Date = new Date(),
): Promise<StationPackage> {
  assertMay(viewer, "line.view");
  const { plantId } = viewer;
  const closed = await whyStationClosed(getPool(), plantId, stationId);
  if (closed !== null) throw closed;
  const station = (await listStations(viewer)).find((one) => one.id === stationId);
  if (!station) throw new AppError("conflict", words.stationWasChangedJustNow);
  const pool = getPool();
  // A batch that left whole is told by its counts: only the frames of the others are looked at, each once.
  const [batches, gauges, inspectors, signedIn] = await Promise.all([
    pool.query<RowOf<typeof openBatch> & Pick<StationBatch, "held" | "frames" | "measured" | "devices">>(sql`
      select ${openBatch}, b.held_at is not null as held, c.frames, c.measured,
        (select coalesce(json_agg(json_build_object('id', d.id, 'name', d.name, 'since', d.queue ->> 'batchSince') order by d.name, d.id), '[]') from device d
          where d.plant_id = b.plant_id and d.queue ->> 'batch' = b.key and d.revoked_at is null
            and d.last_seen_at > ${now}::timestamptz - make_interval(mins => ${BATCH_LEASE_MINUTES})) as devices
      from batch b
      join batch_tally t on t.plant_id = b.plant_id and t.batch_id = b.id and t.gone < t.frames
      join lateral (select count(*)::int as frames, count(*) filter (where ${inspectionsHere(plantId, stationId)} > 0)::int as measured,
          bool_or(f.state = any(${OPEN_STATES}::"FrameState"[])) as open
        from frame f where f.plant_id = b.plant_id and f.batch_id = b.id) c on c.open
      join supplier s on s.plant_id = b.plant_id and s.id = b.supplier_id
      join frame_model m on m.plant_id = b.plant_id and m.id = b.model_id
      where b.plant_id = ${plantId} and b.line_id = ${station.lineId}
      order by c.measured < c.frames desc, b.opened_at desc, b.id
      limit ${OPEN_BATCHES}`),
    listStationGauges(plantId, stationId, now),
    pool.query<RowOf<typeof badge> & { badgeCode: string }>(sql`
      select ${badge} from person p
      where p.plant_id = ${plantId} and p.active and p.badge_code is not null
        and exists (select 1 from person_role r where r.plant_id = p.plant_id and r.person_id = p.id and r.role in ('inspector', 'engineer'))
      order by p.name, p.id`),
    pool.query<RowOf<typeof signedInAs> & { code: string }>(sql`
      select ${signedInAs}, coalesce(badge_code, id::text) as code from person
      where plant_id = ${plantId} and id = ${viewer.kind === "person" ? viewer.personId : null}`),
  ]);
  const planIds = [...new Set(batches.rows.map((batch) => batch.planId))];
  // With the plans of the batches the fuller ones by which a first-off is measured.
  const plans = await pool.query<RowOf<typeof planInForce>>(sql`
    select distinct on (p.id) ${planInForce}
    from measuring_plan_revision r
    join measuring_plan p on p.plant_id = r.plant_id and p.id = r.plan_id
    join drawing_revision d on d.plant_id = r.plant_id and d.id = r.drawing_revision_id
    where r.plant_id = ${plantId} and r.state = 'released' and (p.id = any(${planIds}::uuid[]) or p.key in (
      select o.settings -> 'firstOff' ->> 'plan' from measuring_plan_revision o
      where o.plant_id = ${plantId} and o.state = 'released' and o.plan_id = any(${planIds}::uuid[])))
    order by p.id, r.released_at desc`);
  return {
    station,
    batches: batches.rows,
    plans: plans.rows,
    gauges,
    inspectors: inspectors.rows,
    zone: viewer.plantZone,
    viewer: signedIn.rows[0] ?? null,
    serverTime: now.getTime(),
  };
}

const framesOfSample = batchSampleColumns("batch_sample", ["frames"]);
const frameHere = frameColumns("f", ["serial", "position", "mould", "state", "verdict", "leaseDeviceId"]);

/** The frames of a batch in their order, with what is done and left at the station, and which of them the plan asks for. */
export async function listBatchFrames(
  viewer: Viewer,
  batch: Pick<StationBatch, "id" | "key">,
  byPlan: PlannedFrames,
  stationId: string,
): Promise<readonly StationFrame[]> {
  assertMay(viewer, "line.view");
  const { rows: samples } = await getPool().query<RowOf<typeof framesOfSample>>(sql`
    select ${framesOfSample} from batch_sample where plant_id = ${viewer.plantId} and batch_id = ${batch.id}`);
  const planned = samples[0]?.frames ?? byPlan;
  const { rows } = await getPool().query<RowOf<typeof frameHere> & { inspections: number }>(sql`
    select ${frameHere}, ${inspectionsHere(viewer.plantId, stationId)} as inspections
    from frame f where f.plant_id = ${viewer.plantId} and f.batch_id = ${batch.id} order by f.position, f.id`);
  const { kind, size } = planned;
  const serials =
    kind === "drawn" && size !== undefined ? await drawSample(viewer, { id: batch.id, key: batch.key, size }) : null;
  const drawn = serials === null ? null : new Set(serials);
  return rows.map((frame) => ({
    ...frame,
    planned: isFramePlanned(planned, frame.position, rows.length, drawn?.has(frame.serial) ?? null),
  }));
}
