import "server-only";
import { zeroLimitUm } from "@/lib/core/metrology/comparator";
import { AppError } from "@/lib/errors";
import { gaugeState, type GaugeState, type GaugeStateReason } from "@/lib/quality/gauge-state";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { nameThen } from "../db/name-then";
import { settingRingColumns } from "../db/columns/setting-ring";
import { type RowOf, together } from "../db/columns/table-columns";
import { zeroCheckColumns } from "../db/columns/zero-check";
import { sql } from "../db/sql";
import { readSuspectSpans, type FoundOutSpan } from "../evidence/suspect-spans";
import { listGauges, listRings, type GaugeItem } from "./register";
import { GAUGES_WORDS } from "./words";

/** A gauge with the state that follows from its records. */
export type StandingGauge = GaugeItem & {
  readonly state: GaugeState;
  readonly reasons: readonly GaugeStateReason[];
};

type Spans = ReadonlyMap<string, readonly FoundOutSpan[]>;

function standingOf(gauge: GaugeItem, spans: Spans, ringsInUse: ReadonlySet<string>, now: Date): StandingGauge {
  const open = spans.get(gauge.key)?.find(({ untilMs }) => untilMs === null) ?? null;
  const { state, reasons } = gaugeState(
    {
      isInUse: gauge.inUse,
      calibrations: gauge.calibrations.map(({ at, dueAt }) => ({ atMs: Date.parse(at), dueMs: Date.parse(dueAt) })),
      openDoubt: open,
      ring: gauge.ring === null ? null : { key: gauge.ring, isInUse: ringsInUse.has(gauge.ring) },
    },
    now.getTime(),
  );
  return { ...gauge, state, reasons };
}

async function readStanding(viewer: Viewer, now: Date): Promise<{ gauges: readonly StandingGauge[]; spans: Spans }> {
  const [gauges, rings] = await Promise.all([listGauges(viewer), listRings(viewer)]);
  const { spans } = await readSuspectSpans(getPool(), viewer.plantId);
  const ringsInUse = new Set(rings.filter(({ inUse }) => inUse).map(({ key }) => key));
  return { gauges: gauges.map((gauge) => standingOf(gauge, spans, ringsInUse, now)), spans };
}

/**
 * Gauges with their states.
 *
 * @throws AppError forbidden
 */
export async function listStandingGauges(viewer: Viewer, now: Date = new Date()): Promise<readonly StandingGauge[]> {
  return (await readStanding(viewer, now)).gauges;
}

/** Checks that a gauge's page shows: years of weekly ones, a year of those of each shift. */
const MOST_CHECKS = 1000;

const checkColumns = together(
  zeroCheckColumns("z", ["at", "readingMm", "driftUm", "limitUm", "occasion"]),
  settingRingColumns("r", { ring: "key" }),
);

export type GaugePage = {
  readonly gauge: StandingGauge;
  /** The limit that a zero check has now; null where it has no ring. */
  readonly limitUm: number | null;
  /** Oldest first. */
  readonly checks: readonly (Omit<RowOf<typeof checkColumns>, "at"> & {
    readonly at: string;
    readonly person: string | null;
  })[];
  readonly doubts: readonly FoundOutSpan[];
  readonly now: string;
};

/**
 * One gauge: its state and why, its zero checks, calibrations and the stretches in doubt.
 *
 * @throws AppError forbidden, not-found
 */
export async function getGaugePage(viewer: Viewer, key: string, now: Date = new Date()): Promise<GaugePage> {
  const { gauges, spans } = await readStanding(viewer, now);
  const gauge = gauges.find((one) => one.key === key);
  if (!gauge) throw new AppError("not-found", GAUGES_WORDS.standing.noGauge(key));
  const { rows } = await getPool().query<RowOf<typeof checkColumns> & { person: string | null }>(sql`
    select ${checkColumns}, ${nameThen("p", "z.at")} as person
    from zero_check z
    join gauge g on g.plant_id = z.plant_id and g.id = z.gauge_id
    join setting_ring r on r.plant_id = z.plant_id and r.id = z.ring_id
    left join person p on p.plant_id = z.plant_id and p.id = z.person_id
    where z.plant_id = ${viewer.plantId} and g.key = ${key} order by z.at desc, z.id desc limit ${MOST_CHECKS}`);
  return {
    gauge,
    limitUm: gauge.ring === null ? null : zeroLimitUm(gauge),
    checks: rows.map((row) => ({ ...row, at: row.at.toISOString() })).reverse(),
    doubts: spans.get(key) ?? [],
    now: now.toISOString(),
  };
}
