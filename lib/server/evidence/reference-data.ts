import "server-only";
import { AppError } from "@/lib/errors";
import { compileMeasurement, type CompiledMeasurement } from "@/lib/core/metrology/measure-frame";
import { parseReadingName, type ReadingName } from "@/lib/core/metrology/reading-name";
import { measuringOptions } from "@/lib/schemas/measuring-options";
import type { PlanSettings } from "@/lib/schemas/plan";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import type { GaugeRange } from "@/lib/core/metrology/gauge-range";
import type { CalibrationSpan } from "@/lib/core/metrology/calibration-in-force";
import type pg from "pg";
import { deviceColumns } from "../db/columns/device";
import { drawingRevisionColumns } from "../db/columns/drawing-revision";
import { gaugeColumns } from "../db/columns/gauge";
import { lineColumns } from "../db/columns/line";
import { measuringPlanColumns } from "../db/columns/measuring-plan";
import { measuringPlanRevisionColumns } from "../db/columns/measuring-plan-revision";
import { personColumns } from "../db/columns/person";
import { plantColumns } from "../db/columns/plant";
import { stationColumns } from "../db/columns/station";
import { type RowOf, together } from "../db/columns/table-columns";
import { onOneConnection } from "../db/on-one-connection";
import { sql } from "../db/sql";
import { allEnded } from "../db/transaction";
import { calibrationsOfGauge } from "./calibrations";
import { readSuspectSpans, type FoundOutSpan, type SuspectGauges } from "./suspect-spans";
import { EVIDENCE_WORDS } from "./words";

const words = EVIDENCE_WORDS.referenceData;

export type StationReference = {
  readonly id: string;
  readonly key: string;
  readonly name: string;
  readonly lineId: string;
  readonly lineKey: string;
  readonly operationId: string;
  /** In use, and its line too. */
  readonly active: boolean;
};

/** A plan revision with everything that a verdict needs, compiled once. Its content never changes once released. */
export type PlanReference = {
  readonly id: string;
  readonly planId: string;
  readonly planKey: string;
  readonly revision: string;
  readonly state: "draft" | "released" | "superseded";
  readonly drawingId: string;
  readonly drawingRevisionId: string;
  readonly drawing: ShellDrawing;
  readonly readingNames: readonly string[];
  readonly names: readonly ReadingName[];
  readonly compiled: CompiledMeasurement;
  readonly releasedAt: Date | null;
  /** Keys of plans that it allows by name beside itself: weaker ones, and that of the first frame of a shift. */
  readonly allows: readonly string[];
};

export type GaugeReference = {
  readonly key: string;
  /** "bore", "sweep", "face", "width", "plug" or "bar". */
  readonly kind: string;
  /** How it touches: "two-point", "three-point", "indicator", "caliper", "plain plug", "bar". */
  readonly principle: string;
  readonly active: boolean;
  /** What it can show; null where nobody entered it. */
  readonly range: GaugeRange | null;
  readonly resolutionUm: number;
  /** It is set by a ring, or takes bores, which no gauge does without one: its zero has to be checked. */
  readonly isComparator: boolean;
  /** Its first good zero check or calibration, ms since 1970; null where there was none. */
  readonly firstGoodMs: number | null;
  /** Newest first. */
  readonly calibrations: readonly CalibrationSpan[];
  /** Times whose readings a drifted zero makes not proven; nearly always none. */
  readonly suspect: readonly FoundOutSpan[];
};

export type InspectorReference = { readonly id: string; readonly name: string; readonly badgeCode: string | null };

/** A code that named somebody until a moment, ms since 1970: a badge changes hands, a person leaves. */
export type FormerCode = { readonly untilMs: number; readonly inspector: InspectorReference };

export type ReferenceData = {
  /** Time zone of the plant, in which its sentences tell moments. */
  readonly zone: string;
  readonly stations: ReadonlyMap<string, StationReference>;
  readonly plans: ReadonlyMap<string, PlanReference>;
  /** Revisions of each plan that are or were released, newest first. */
  readonly revisionsOfPlan: ReadonlyMap<string, readonly PlanReference[]>;
  readonly gauges: ReadonlyMap<string, GaugeReference>;
  /** By the code on the badge, and by the person's own key. */
  readonly inspectorsByCode: ReadonlyMap<string, InspectorReference>;
  /** Of each code that named somebody before, to whom it belonged until when, earliest first. */
  readonly formerCodes: ReadonlyMap<string, readonly FormerCode[]>;
  /** Devices that were taken out of use: nothing is taken from them. */
  readonly revokedDevices: ReadonlySet<string>;
  /** Number of zero checks and calibrations when `gauges` was read: tells whether another has come since. */
  readonly gaugesVersion: number;
};

const FRESH_MS = 2_000;
/** Older than this it is read anew while it is still used: who records one frame after another then never waits for it. */
const RENEWED_MS = 1_500;

type Entry = { readonly at: number; readonly data: Promise<ReferenceData>; renewing?: true };
const cache = new Map<string, Entry>();
/** Compiled plans and their drawings by plan revision: immutable, so kept for the life of the process. */
const compiledPlans = new Map<string, Pick<PlanReference, "names" | "compiled" | "drawing">>();

function compileOnce({ id, readingNames, drawing, settings }: PlanRow) {
  const known = compiledPlans.get(id);
  if (known) return known;
  const names = readingNames.map((text) => {
    const name = parseReadingName(text);
    if (!name.ok) throw new AppError("unexpected", words.planRevisionAsksForReading(id, name.reason));
    return name.value;
  });
  const fresh = { names, drawing, compiled: compileMeasurement(names, drawing, measuringOptions(settings)) };
  compiledPlans.set(id, fresh);
  return fresh;
}

type PlanRow = Omit<PlanReference, "names" | "compiled"> & { readonly settings: PlanSettings };

type GaugeRow = Omit<GaugeReference, "suspect" | "firstGoodMs">;

function withSpans(gauges: Iterable<GaugeRow>, { spans, firstGood }: SuspectGauges): Map<string, GaugeReference> {
  return new Map(
    [...gauges].map((gauge) => [
      gauge.key,
      { ...gauge, suspect: spans.get(gauge.key) ?? [], firstGoodMs: firstGood.get(gauge.key) ?? null },
    ]),
  );
}

const knownGauge = gaugeColumns("g", ["key", "kind", "principle", "active", "resolutionUm"]);

async function readGauges(db: pg.ClientBase, plantId: string): Promise<readonly GaugeRow[]> {
  const { rows } = await db.query<
    RowOf<typeof knownGauge> & Pick<GaugeRow, "isComparator" | "range" | "calibrations">
  >(sql`
    select ${knownGauge},
      g.kind = 'bore' or g.ring_id is not null as "isComparator",
      case when g.range_lower is not null then json_build_object('lower', g.range_lower, 'upper', g.range_upper) end as range,
      ${calibrationsOfGauge} as calibrations
    from gauge g where g.plant_id = ${plantId}`);
  return rows;
}

/** The same reference data with the gauges, their zero checks and calibrations as a transaction sees them now. */
export async function withGaugesAsNow(
  db: pg.ClientBase,
  plantId: string,
  reference: ReferenceData,
): Promise<ReferenceData> {
  const now = await readSuspectSpans(db, plantId);
  return { ...reference, gauges: withSpans(await readGauges(db, plantId), now), gaugesVersion: now.version };
}

function revisionsByPlan(plans: readonly PlanReference[]): Map<string, PlanReference[]> {
  const newestFirst = [...plans].sort(
    (a, b) => (b.releasedAt?.getTime() ?? 0) - (a.releasedAt?.getTime() ?? 0) || b.id.localeCompare(a.id),
  );
  const byPlan = new Map<string, PlanReference[]>();
  for (const plan of newestFirst) byPlan.set(plan.planId, [...(byPlan.get(plan.planId) ?? []), plan]);
  return byPlan;
}

function formerCodesOf(
  rows: readonly (InspectorReference & { readonly code: string; readonly until: Date })[],
): Map<string, FormerCode[]> {
  const former = new Map<string, FormerCode[]>();
  for (const { code, until, ...inspector } of rows)
    former.set(code, [...(former.get(code) ?? []), { untilMs: until.getTime(), inspector }]);
  return former;
}

const zoneOfPlant = plantColumns("plant", { zone: "timeZone" });
const knownStation = together(
  stationColumns("s", ["id", "key", "name", "lineId", "operationId"]),
  lineColumns("l", { lineKey: "key" }),
);
const knownPlan = together(
  measuringPlanRevisionColumns("r", [
    "id",
    "planId",
    "revision",
    "state",
    "drawingRevisionId",
    "readingNames",
    "releasedAt",
    "settings",
  ]),
  measuringPlanColumns("p", { planKey: "key", drawingId: "drawingId" }),
  drawingRevisionColumns("d", { drawing: "content" }),
);
const inspector = personColumns("p", ["id", "name", "badgeCode"]);
const revokedDevice = deviceColumns("device", ["id"]);

function load(plantId: string): Promise<ReferenceData> {
  return onOneConnection((db) => read(db, plantId));
}

async function read(db: pg.ClientBase, plantId: string): Promise<ReferenceData> {
  const [suspects, plant, stations, plans, gauges, inspectors, formerBadges, devices] = await allEnded([
    // First, so that gauges are never older than the version that is read with them.
    readSuspectSpans(db, plantId),
    db.query<RowOf<typeof zoneOfPlant>>(sql`select ${zoneOfPlant} from plant where id = ${plantId}`),
    db.query<RowOf<typeof knownStation> & { active: boolean }>(sql`
      select ${knownStation}, s.active and l.active as active
      from station s join line l on l.plant_id = s.plant_id and l.id = s.line_id where s.plant_id = ${plantId}`),
    db.query<RowOf<typeof knownPlan> & { allows: string[] }>(sql`
      select ${knownPlan},
        array(select jsonb_array_elements_text(coalesce(r.settings -> 'weakerPlans', '[]'))
          union select r.settings -> 'firstOff' ->> 'plan' where r.settings -> 'firstOff' ? 'plan') as allows
      from measuring_plan_revision r
      join measuring_plan p on p.plant_id = r.plant_id and p.id = r.plan_id
      join drawing_revision d on d.plant_id = r.plant_id and d.id = r.drawing_revision_id
      where r.plant_id = ${plantId} and r.state <> 'draft'`),
    readGauges(db, plantId),
    db.query<RowOf<typeof inspector>>(sql`
      select ${inspector} from person p where plant_id = ${plantId} and active`),
    db.query<RowOf<typeof inspector> & { code: string; until: Date }>(sql`
      select b.code, b.until, ${inspector} from former_badge b
      join person p on p.plant_id = b.plant_id and p.id = b.person_id
      where b.plant_id = ${plantId} order by b.code, b.until`),
    db.query<RowOf<typeof revokedDevice>>(
      sql`select ${revokedDevice} from device where plant_id = ${plantId} and revoked_at is not null`,
    ),
  ]);
  const revisions = plans.rows.map((row) => ({ ...row, ...compileOnce(row) }));
  return {
    zone: plant.rows[0]?.zone ?? "UTC",
    stations: new Map(stations.rows.map((row) => [row.id, row])),
    plans: new Map(revisions.map((plan) => [plan.id, plan])),
    revisionsOfPlan: revisionsByPlan(revisions),
    gauges: withSpans(gauges, suspects),
    gaugesVersion: suspects.version,
    revokedDevices: new Set(devices.rows.map(({ id }) => id)),
    formerCodes: formerCodesOf(formerBadges.rows),
    inspectorsByCode: new Map(
      inspectors.rows.flatMap((row) => [
        [row.id, row] as const,
        ...(row.badgeCode === null ? [] : [[row.badgeCode, row] as const]),
      ]),
    ),
  };
}

/**
 * To whom a code belonged at a moment: the code on a badge, or a person's own key. What was measured before a badge changed
 * hands, or before its bearer left, and arrives later, is still theirs.
 *
 * @param at - when it was measured
 * @param kept - what the refusal says of what was sent
 * @throws AppError not-found
 */
export function inspectorOf(
  code: string,
  { inspectorsByCode, formerCodes }: Pick<ReferenceData, "inspectorsByCode" | "formerCodes">,
  at: Date,
  kept: string,
): InspectorReference {
  const former = formerCodes.get(code)?.find(({ untilMs }) => at.getTime() < untilMs);
  const inspector = former?.inspector ?? inspectorsByCode.get(code);
  if (inspector) return inspector;
  throw new AppError("not-found", words.badgeBelongsToNobody(code, kept), {
    details: { badge: code },
  });
}

/**
 * Refuses what comes from a device that was taken out of use.
 *
 * @throws AppError refused, with `revoked` in its details
 */
export function assertDeviceInUse(
  deviceId: string | undefined,
  { revokedDevices }: Pick<ReferenceData, "revokedDevices">,
): void {
  if (deviceId === undefined || !revokedDevices.has(deviceId)) return;
  throw new AppError("refused", words.deviceWasTakenOut(deviceId), { details: { device: deviceId, revoked: true } });
}

/**
 * What recording an inspection looks up: stations, released plans, gauges, badges of one plant. At most two seconds old;
 * what decides over shipping is read inside the transaction, never here.
 */
export function getReferenceData(plantId: string): Promise<ReferenceData> {
  const known = cache.get(plantId);
  const now = Date.now();
  if (known && now - known.at < FRESH_MS) {
    if (now - known.at >= RENEWED_MS) void renew(plantId, known, now);
    return known.data;
  }
  const data = load(plantId);
  const entry = { at: now, data };
  cache.set(plantId, entry);
  data.catch(() => forgetEntry(plantId, entry));
  return data;
}

function forgetEntry(plantId: string, entry: Entry): void {
  if (cache.get(plantId) === entry) cache.delete(plantId);
}

/** Replaces what is kept of a plant unless it was forgotten meanwhile; where it cannot be read, who asks next is told. */
async function renew(plantId: string, known: Entry, now: number): Promise<void> {
  if (known.renewing) return;
  known.renewing = true;
  try {
    const data = Promise.resolve(await load(plantId));
    if (cache.get(plantId) === known) cache.set(plantId, { at: now, data });
  } catch {
    forgetEntry(plantId, known);
  }
}

/**
 * The same, read anew where something that was asked for is not in it: a plan released or a station entered a moment ago, perhaps
 * by another process, answers at once.
 */
export async function getReferenceDataFor(
  plantId: string,
  asked: readonly { readonly planRevisionId: string; readonly stationId: string }[],
): Promise<ReferenceData> {
  const known = await getReferenceData(plantId);
  const isKnown = asked.every(
    ({ planRevisionId, stationId }) => known.plans.has(planRevisionId) && known.stations.has(stationId),
  );
  if (isKnown) return known;
  forgetReferenceData(plantId);
  return getReferenceData(plantId);
}

/** Forgets what is kept of a plant: called by the commands that change it, and between tests. */
export function forgetReferenceData(plantId: string): void {
  cache.delete(plantId);
}
