import "server-only";
import { findDemonstrationDrawing } from "@/lib/quality/demonstration-drawings";
import { DEMO_PASSWORD, DEMO_SIGN_INS } from "@/lib/schemas/demo-sign-ins";
import { uuidV7 } from "@/lib/schemas/identifier";
import type { RecordInspection } from "@/lib/schemas/inspection";
import { DEFAULT_ZERO_LIMIT_UM } from "@/lib/core/metrology/comparator";
import type { DemoEvent, DemoInspection, DemoPlan, DemoZeroCheck } from "@/lib/simulation/demo-plan";
import { actorOf, type PersonViewer, type SystemViewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { lineColumns } from "../db/columns/line";
import { streamColumns } from "../db/columns/stream";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { baselineOf } from "@/lib/quality/baseline";
import { estimateControlLimits, streamValue } from "@/lib/quality/control-limits";
import { streamSubject } from "@/lib/quality/stream-evaluation";
import { candidatesFor, readBaselineRows } from "../drift/baseline-frames";
import { streamOf } from "../drift/charted-frames";
import { putLimitsInForce } from "../drift/grow-streams";
import { addEvent } from "../events/commands";
import { recordZeroCheck } from "../gauges/commands";
import { GAUGES_CHAIN } from "../evidence/suspect-spans";
import { recordInspections } from "../inspections/record-inspections";
import { forgetReferenceData, getReferenceData, type ReferenceData } from "../evidence/reference-data";
import { anchorJournal } from "../journal/anchor-journal";
import { appendJournal } from "../journal/append-journal";
import { rowHash } from "../journal/vouched-rows";
import { unsafeDemoPasswordHash } from "../people/demo-people";
import { insertPerson } from "../people/account-rows";
import { createOperation, createLine, createStation, createSupplier, createFrameModel } from "../plant/create-parts";
import { createGauge } from "../gauges/change-gauges";
import { draftDrawing, releaseDrawing } from "../drawings/commands";
import { draftPlan, releasePlan } from "../plans/commands";
import { createBatch } from "../batches/commands";
import type { DemoProgress } from "./demo-progress";
import { settleOldBatches } from "./settle-old-batches";
import { followDemoCases, settleOldCases } from "./settle-old-cases";

type Cast = { readonly system: SystemViewer; readonly people: ReadonlyMap<string, PersonViewer> };

const DAY_MS = 86_400_000;
const CHUNK = 200;
/** The limits of the charts rest on a whole life of a reamer as soon as there is one. */
const LIFE_AFTER_MS = 12 * DAY_MS;
/** Batches older than this are settled and shipped; the newer ones show what the gate is for. */
const SETTLED_AFTER_MS = 9 * DAY_MS;
/** The engineer keeps up: what is older than this has its cause. */
const LOOKED_AT_AFTER_MS = 5 * DAY_MS;

const EVENT_KIND = {
  tool: "reamer changed",
  fixture: "fixture shimmed",
  mould: "mould cleaned",
  gauge: "gauge checked",
  other: "other",
} as const satisfies Record<DemoEvent["kind"], string>;

async function insertPlant(plan: DemoPlan): Promise<string> {
  const plantId = uuidV7(plan.from);
  const { key, name, timeZone } = plan.plant;
  await getPool().query(sql`
    insert into plant (id, key, name, time_zone, invented, created_at)
    values (${plantId}, ${key}, ${name}, ${timeZone}, true, ${new Date(plan.from)})`);
  return plantId;
}

/** Everybody of the plan; those who have a published sign-in get it. */
async function insertPeople(plan: DemoPlan, plantId: string): Promise<ReadonlyMap<string, PersonViewer>> {
  const passwordHash = await unsafeDemoPasswordHash();
  return inSqlTransaction(async (db) => {
    const people = new Map<string, PersonViewer>();
    for (const { key, name, roles, badgeCode } of plan.people) {
      const email = DEMO_SIGN_INS.find((signIn) => signIn.name === name)?.email;
      const personId = await insertPerson(db, plantId, {
        name,
        roles,
        ...(badgeCode === null ? {} : { badgeCode }),
        ...(email === undefined ? {} : { account: { email, passwordHash } }),
      });
      people.set(key, { kind: "person", plantId, plantZone: plan.plant.timeZone, personId, name, roles });
    }
    return people;
  });
}

async function insertRings(plan: DemoPlan, plantId: string): Promise<void> {
  for (const ring of plan.rings)
    await getPool().query(sql`
      insert into setting_ring (plant_id, id, key, certified_size_mm, uncertainty_um)
      values (${plantId}, ${uuidV7(plan.from)}, ${ring.key}, ${ring.certifiedSizeMm}, ${ring.uncertaintyUm})`);
}

async function setUpPlant(plan: DemoPlan, { system }: Cast): Promise<void> {
  const at = new Date(plan.from - DAY_MS);
  for (const operation of plan.operations) await createOperation(system, operation, at);
  for (const { key, name } of plan.lines) await createLine(system, { key, name }, at);
  for (const { key, name, line, operation, viewingSide } of plan.stations)
    await createStation(system, { key, name, line, operation, viewingSide }, at);
  for (const supplier of plan.suppliers) await createSupplier(system, supplier, at);
  await insertRings(plan, system.plantId);
  for (const gauge of plan.gauges) {
    const calibratedAt = plan.until - gauge.calibratedDaysAgo * DAY_MS;
    await createGauge(
      system,
      {
        key: gauge.key,
        name: gauge.name,
        kind: gauge.kind,
        principle: gauge.principle,
        resolutionUm: gauge.resolutionUm,
        rangeLower: gauge.range?.lower ?? null,
        rangeUpper: gauge.range?.upper ?? null,
        station: gauge.station,
        ...(gauge.ring === null ? {} : { ring: gauge.ring }),
        calibratedAt: new Date(calibratedAt).toISOString(),
        calibratedUntil: new Date(calibratedAt + gauge.calibrationDays * DAY_MS).toISOString(),
      },
      new Date(Math.max(at.getTime(), calibratedAt)),
    );
  }
  const revisions = new Map<string, string>();
  for (const { drawing: key } of plan.lines) {
    const drawing = findDemonstrationDrawing(key);
    if (!drawing) throw new Error(`loadDemoPlant: there is no drawing ${key}`);
    const { id } = await draftDrawing(system, { drawing: JSON.parse(JSON.stringify(drawing)) }, at);
    await releaseDrawing(system, id, at);
    revisions.set(key, id);
  }
  for (const { key, title, drawing, readingNames } of plan.plans) {
    const { id } = await draftPlan(
      system,
      {
        key,
        title,
        revision: "1",
        drawingRevisionId: revisions.get(drawing) ?? "",
        readingNames: [...readingNames],
        frames: { kind: "all" },
      },
      at,
    );
    await releasePlan(system, id, at);
  }
  for (const { model, drawing } of plan.lines) await createFrameModel(system, { ...model, drawing }, at);
}

async function openBatches(plan: DemoPlan, { system }: Cast, onProgress: DemoProgress): Promise<void> {
  for (const [index, batch] of plan.batches.entries()) {
    await createBatch(
      system,
      {
        key: batch.key,
        supplier: batch.supplier,
        model: batch.model,
        line: batch.line,
        plan: batch.plan,
        serials: batch.frames.map(({ serial, mould }) => ({ serial, ...(mould === null ? {} : { mould }) })),
      },
      new Date(batch.openedAt),
    );
    onProgress("batches", index + 1, plan.batches.length);
  }
}

type Keys = {
  readonly stations: ReadonlyMap<string, string>;
  readonly plans: ReadonlyMap<string, ReferenceData["plans"] extends ReadonlyMap<string, infer P> ? P : never>;
  readonly badges: ReadonlyMap<string, string>;
};

function toInspection(one: DemoInspection, keys: Keys): RecordInspection {
  const plan = keys.plans.get(one.plan);
  const badge = keys.badges.get(one.inspector);
  const readings = [...one.readings];
  const step = one.durationMs / readings.length;
  return {
    id: uuidV7(one.measuredAt),
    serial: one.serial,
    batch: one.batch,
    stationId: keys.stations.get(one.station) ?? "",
    planRevisionId: plan?.id ?? "",
    readings,
    gauges:
      plan?.names.map((name) => (name.kind === "plug" || name.kind === "bar" ? null : one.gauges[name.kind])) ?? [],
    offsetsMs: readings.map((_, index) => Math.round((index + 1) * step)),
    attributes: { temperatureC: one.temperatureC },
    deviceTime: new Date(one.measuredAt).toISOString(),
    deviceId: `station-${one.station}`,
    ...(badge === undefined ? {} : { inspectorCode: badge }),
    tool: one.tool,
    fixture: one.fixture,
    // The paint shop measures frames that were measured before, at another operation: no reason is asked there.
  };
}

const charted = streamColumns("s", ["id", "feature", "lineId", "operationId", "drawingId"]);
const keyedLine = lineColumns("line", ["id", "key"]);
/** Frames of a life of a reamer, and more. */
const MOST_OF_A_LIFE = 5000;

async function restLimitsOnALife({ system: { plantId } }: Cast, from: Date, at: Date): Promise<void> {
  const { rows } = await getPool().query<RowOf<typeof charted>>(sql`
    select ${charted} from stream s join operation o on o.plant_id = s.plant_id and o.id = s.operation_id
    where s.plant_id = ${plantId} and s.points >= 100 and o.key = 'after-machining' order by s.id`);
  for (const { id, feature, ...group } of rows)
    await inSqlTransaction(async (db) => {
      const stream = streamOf(feature);
      const read = await readBaselineRows(db, plantId, group, { from, to: at, end: "first", most: MOST_OF_A_LIFE });
      const candidates = candidatesFor(read, id, (features) => streamValue(stream, features));
      const frames = baselineOf(candidates, streamSubject(stream.feature), { size: MOST_OF_A_LIFE });
      const limits = estimateControlLimits(
        stream,
        frames.map(({ value }) => value),
      );
      const [first, last] = [frames[0], frames.at(-1)];
      if (!limits.ok || first === undefined || last === undefined) return;
      await putLimitsInForce(db, plantId, id, limits.value, { from: first.at, to: last.at }, null, at);
    });
}

async function recordAll(plan: DemoPlan, cast: Cast, onProgress: DemoProgress): Promise<void> {
  const { system, people } = cast;
  forgetReferenceData(system.plantId);
  const reference = await getReferenceData(system.plantId);
  const keys: Keys = {
    stations: new Map([...reference.stations.values()].map((station) => [station.key, station.id])),
    plans: new Map([...reference.plans.values()].map((one) => [one.planKey, one])),
    badges: new Map(
      plan.people.flatMap(({ key, badgeCode }) => (badgeCode === null ? [] : [[key, badgeCode] as const])),
    ),
  };
  const lines = await getPool().query<RowOf<typeof keyedLine>>(
    sql`select ${keyedLine} from line where plant_id = ${system.plantId}`,
  );
  const lineIds = new Map(lines.rows.map((line) => [line.key, line.id]));
  const events = [...plan.events];
  let isLifeOver = false;
  for (let from = 0; from < plan.inspections.length; from += CHUNK) {
    const chunk = plan.inspections.slice(from, from + CHUNK);
    const now = new Date(chunk.at(-1)?.measuredAt ?? plan.until);
    while (events[0] !== undefined && events[0].at <= now.getTime()) {
      const event = events.shift();
      const person = event && people.get(event.person);
      if (!event || !person) continue;
      const lineId = event.line === null ? undefined : lineIds.get(event.line);
      await addEvent(
        { ...system, name: person.name },
        {
          id: uuidV7(event.at),
          ...(lineId === undefined ? {} : { lineId }),
          kind: EVENT_KIND[event.kind],
          at: new Date(event.at).toISOString(),
          text: event.text,
          ...(event.subject === null ? {} : { subject: event.subject }),
        },
        new Date(event.at),
      );
    }
    const outcomes = await recordInspections(
      system,
      chunk.map((one) => toInspection(one, keys)),
      { now },
    );
    const refused = outcomes.find((one) => one.status === "refused");
    if (refused?.status === "refused") throw refused.error;
    if (!isLifeOver && now.getTime() > plan.from + LIFE_AFTER_MS) {
      await restLimitsOnALife(cast, new Date(plan.from), now);
      isLifeOver = true;
    }
    onProgress("frames", from + chunk.length, plan.inspections.length);
  }
}

async function insertZeroChecks(plan: DemoPlan, cast: Cast): Promise<void> {
  const limitUm = DEFAULT_ZERO_LIMIT_UM;
  const certified = new Map(plan.rings.map((ring) => [ring.key, ring.certifiedSizeMm]));
  const driftUm = (check: DemoZeroCheck): number =>
    (check.readingMm - (certified.get(check.ring) ?? check.readingMm)) * 1000;
  const good = plan.zeroChecks.filter((check) => Math.abs(driftUm(check)) <= limitUm);
  await insertGoodChecks(good, good.map(driftUm), limitUm, cast);
  // A failed one takes the command's way: it holds what rests on the gauge.
  for (const check of plan.zeroChecks.filter((one) => !good.includes(one))) {
    const { gauge, readingMm, at } = check;
    const draft = {
      id: uuidV7(at),
      gauge,
      readingMm,
      occasion: "shift start",
      at: new Date(at).toISOString(),
    } as const;
    await recordZeroCheck(cast.people.get(check.person) ?? cast.system, draft, new Date(at));
  }
}

/** What is news on the day on which the demonstration begins. */
const NEWS_MS = 24 * 3_600_000;

/** Good checks change nothing else, so they go in together, with one entry of the journal that vouches for them. */
async function insertGoodChecks(
  checks: readonly DemoZeroCheck[],
  drifts: readonly number[],
  limitUm: number,
  { system, people }: Cast,
): Promise<void> {
  const { plantId } = system;
  await inSqlTransaction(async (db) => {
    const idsOf = async (table: "gauge" | "setting_ring"): Promise<ReadonlyMap<string, string>> => {
      const text = `select key, id from ${table} where plant_id = $1`;
      const { rows } = await db.query<{ key: string; id: string }>({ text, values: [plantId] });
      return new Map(rows.map((row) => [row.key, row.id]));
    };
    const [gauges, rings] = [await idsOf("gauge"), await idsOf("setting_ring")];
    const rows = checks.map((one, place) => ({
      plant_id: plantId,
      id: uuidV7(one.at),
      gauge_id: gauges.get(one.gauge) ?? null,
      ring_id: rings.get(one.ring) ?? null,
      at: new Date(one.at),
      reading_mm: one.readingMm,
      drift_um: drifts[place] ?? 0,
      limit_um: limitUm,
      occasion: one.occasion,
      person_id: people.get(one.person)?.personId ?? null,
    }));
    await db.query(sql`
      insert into zero_check select r.* from jsonb_populate_recordset(null::zero_check, ${JSON.stringify(rows)}::jsonb) as r`);
    await appendJournal(db, {
      plantId,
      chain: GAUGES_CHAIN,
      at: rows.at(-1)?.at ?? new Date(),
      actor: actorOf(system),
      action: "zero-checks.passed",
      subjects: rows.map((row) => ({ table: "zero_check", id: row.id, hash: rowHash("zero_check", row) })),
      payload: { checks: rows.length },
    });
  });
}

/** What happened in the weeks before is told to nobody: those who would have been told have dealt with it. */
async function forgetOldNews(plantId: string, before: Date): Promise<void> {
  await getPool().query(sql`
    update outbox set delivered_at = created_at
    where plant_id = ${plantId} and delivered_at is null and created_at < ${before}`);
}

/**
 * Writes the demonstration plant: everything through the commands that real readings and decisions take, inspections in
 * their bulk form, at the times of the plan.
 *
 * @param plan - createDemoPlan(seed, now)
 * @param refreshStatistics - tells the database what is in these tables now, which only their owner may
 */
export async function loadDemoPlant(
  plan: DemoPlan,
  onProgress: DemoProgress,
  refreshStatistics: (tables: readonly string[]) => Promise<void>,
): Promise<void> {
  const plantId = await insertPlant(plan);
  const system: SystemViewer = { kind: "system", plantId, plantZone: plan.plant.timeZone, name: "demonstration" };
  const cast: Cast = { system, people: await insertPeople(plan, plantId) };
  await setUpPlant(plan, cast);
  await openBatches(plan, cast, onProgress);
  await refreshStatistics(["frame", "batch"]);
  await recordAll(plan, cast, onProgress);
  await insertZeroChecks(plan, cast);
  await followDemoCases(plantId, new Date(plan.until), onProgress);
  await settleOldCases(cast.people, new Date(plan.until - LOOKED_AT_AFTER_MS));
  await settleOldBatches(plantId, cast.people, {
    before: new Date(plan.until - SETTLED_AFTER_MS),
    password: DEMO_PASSWORD,
    onProgress,
  });
  await forgetOldNews(plantId, new Date(plan.until - NEWS_MS));
  await anchorJournal(plantId);
}
