import { afterAll, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { POST as postZeroCheck } from "@/app/api/v1/zero-checks/route";
import { GET as getTrace } from "@/app/api/v1/gauges/[key]/trace/route";
import { suspectSpans, type ZeroCheck } from "@/lib/core/metrology/comparator";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { uuidV7 } from "@/lib/schemas/identifier";
import type { RecordInspection } from "@/lib/schemas/inspection";
import type { RecordZeroCheck } from "@/lib/schemas/gauge";
import { getPool } from "@/lib/server/db/client";
import { sql } from "@/lib/server/db/sql";
import { getFrameRecord } from "@/lib/server/frames/queries";
import { readBatchEvidence } from "@/lib/server/gate/read-batch-evidence";
import { recordZeroCheck } from "@/lib/server/gauges/commands";
import { traceGauge } from "@/lib/server/gauges/queries";
import { readSuspectSpans } from "@/lib/server/evidence/suspect-spans";
import { getStationPackage } from "@/lib/server/line/queries";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { withdrawInspection } from "@/lib/server/inspections/withdraw-inspection";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import { createGauge } from "@/lib/server/gauges/change-gauges";
import { shipFrame } from "@/lib/server/shipments/ship-frame";
import { createToken } from "@/lib/server/tokens/commands";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { boresBy, createTestPlant, TEST_BATCH, type TestPlant } from "../../helpers/plant";
import { setTestEnvironment } from "../auth/plant-fixture";

const MINUTE_MS = 60_000;
const HOUR_MS = 60 * MINUTE_MS;

let database: TestDatabase;
let plant: TestPlant;
/** Everything happens in the five hours before this. */
let end: number;

beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
});
afterAll(async () => database.drop());

beforeEach(async () => {
  end = Date.now();
  plant = await createTestPlant({ frames: 6 });
  const { plantId, system } = plant;
  await getPool().query(sql`
    insert into setting_ring (plant_id, id, key, certified_size_mm, uncertainty_um)
    values (${plantId}, ${uuidV7()}, 'R41', 41, 0.75)`);
  const calibration = {
    calibratedAt: new Date(end - 9 * 24 * HOUR_MS).toISOString(),
    calibratedUntil: new Date(end + 90 * 24 * HOUR_MS).toISOString(),
  };
  const bore = { kind: "bore", resolutionUm: 1, ...calibration } as const;
  const ringed = { ...bore, ring: "R41", principle: "two-point" } as const;
  await createGauge(system, { ...ringed, key: "BG-1", name: "bore gauge" });
  await createGauge(system, { ...ringed, key: "BG-2", name: "another bore gauge" });
  await createGauge(system, { ...bore, key: "TP-1", name: "three-point head", principle: "three-point" });
});

const hoursAgo = (hours: number): Date => new Date(end - hours * HOUR_MS);

function check(gauge: string, driftUm: number, hours: number): RecordZeroCheck {
  return {
    id: uuidV7(),
    gauge,
    readingMm: Number((41 + driftUm / 1000).toFixed(4)),
    occasion: "shift start",
    at: hoursAgo(hours).toISOString(),
  };
}

/** A good frame measured some hours ago, its bores by one gauge. */
function measured(serial: string, gauge: string, hours: number, change: Record<string, number> = {}): RecordInspection {
  return {
    ...plant.inspection(serial, change),
    gauges: boresBy(plant.names, gauge),
    deviceTime: hoursAgo(hours).toISOString(),
  };
}

async function record(...inspections: readonly RecordInspection[]) {
  const outcomes = await recordInspections(plant.system, inspections, { now: new Date() });
  return outcomes.map((outcome) => {
    if (outcome.status === "refused") throw outcome.error;
    return outcome;
  });
}

async function states(): Promise<Record<string, string>> {
  const { rows } = await getPool().query<{ serial: string; state: string }>(sql`
    select serial, state::text as state from frame where plant_id = ${plant.plantId} order by serial`);
  return Object.fromEntries(rows.map((row) => [row.serial, row.state]));
}

async function escapes(): Promise<{ serial: string; reason: string }[]> {
  const { rows } = await getPool().query<{ serial: string; reason: string }>(sql`
    select f.serial, e.reason from escape e join frame f on f.plant_id = e.plant_id and f.id = e.frame_id
    where e.plant_id = ${plant.plantId} order by f.serial`);
  return rows;
}

async function batchId(): Promise<string> {
  const { rows } = await getPool().query<{ id: string }>(sql`
    select id from batch where plant_id = ${plant.plantId} and key = ${TEST_BATCH}`);
  return rows[0]?.id ?? "";
}

async function measureSix(): Promise<void> {
  await record(
    measured("T-0001", "BG-1", 4),
    measured("T-0002", "BG-1", 2),
    measured("T-0003", "BG-1", 1.9),
    measured("T-0004", "BG-2", 1.8),
    measured("T-0005", "BG-1", 1.7),
    measured("T-0006", "BG-2", 1.6),
  );
}

describe("a zero check", () => {
  it("tells the station that a gauge failed its last check, and no longer after a good one", async () => {
    const failed = async () =>
      (await getStationPackage(plant.system, plant.stationId)).gauges
        .filter((one) => one.zeroFailed)
        .map((one) => one.key);
    expect(await failed()).toEqual([]);
    await recordZeroCheck(await plant.as("inspector"), check("BG-1", -15, 2));
    expect(await failed()).toEqual(["BG-1"]);
    await recordZeroCheck(await plant.as("inspector"), check("BG-1", 1, 1));
    expect(await failed()).toEqual([]);
  });

  it("passes at the limit and holds nothing", async () => {
    const inspector = await plant.as("inspector");
    await measureSix();
    const answer = await recordZeroCheck(inspector, check("BG-1", -3, 1));
    expect(answer).toMatchObject({ status: "recorded", driftUm: -3, limitUm: 3, passed: true, resting: null, held: 0 });
    expect(new Set(Object.values(await states()))).toEqual(new Set(["measured"]));
    expect((await verifyJournal(plant.plantId)).faults).toEqual([]);
  });

  it("that fails holds every frame since the last good one, and no other", async () => {
    const inspector = await plant.as("inspector");
    await recordZeroCheck(inspector, check("BG-1", 0.5, 3));
    await measureSix();
    const answer = await recordZeroCheck(inspector, check("BG-1", -15, 1));
    expect(answer).toMatchObject({
      passed: false,
      driftUm: -15,
      since: hoursAgo(3).toISOString(),
      held: 3,
      escapes: 0,
    });
    expect(answer.resting).toMatchObject({ frames: 3, shipped: 0, notListed: 0 });
    expect(answer.resting?.list.map((one) => one.serial)).toEqual(["T-0002", "T-0003", "T-0005"]);
    expect(answer.resting?.batches).toEqual([
      { key: TEST_BATCH, supplier: "Test supplier", frames: 3, shipped: 0, held: 3 },
    ]);
    expect(answer.batchesHeld).toEqual([TEST_BATCH]);
    expect(await states()).toEqual({
      "T-0001": "measured",
      "T-0002": "held",
      "T-0003": "held",
      "T-0004": "measured",
      "T-0005": "held",
      "T-0006": "measured",
    });
    const batch = await readBatchEvidence(getPool(), plant.plantId, await batchId());
    expect(batch?.decision.decision).toBe("hold");
    expect(batch?.decision.reasons.map((one) => one.text)).toContainEqual(
      expect.stringMatching(
        /^Bore of the DS seat is not proven to conform in 3 of 6 frames: gauge BG-1 was −15\.0 µm off/,
      ),
    );
    const bore = (await getFrameRecord(inspector, "T-0002")).judgement?.characteristics.find(
      (one) => one.name === "bore",
    );
    expect(bore).toMatchObject({ verdict: "not proven", reason: expect.stringMatching(/BG-1 was −15\.0 µm off/) });
    expect((await verifyJournal(plant.plantId)).faults).toEqual([]);
  });

  it("that fails opens an escape for what has shipped", async () => {
    const inspector = await plant.as("inspector");
    await measureSix();
    await shipFrame(await plant.as("dock"), { id: uuidV7(), serial: "T-0002" });
    const answer = await recordZeroCheck(inspector, check("BG-1", 8, 1));
    // Never checked before: its calibration is the good check that everything goes back to.
    expect(answer).toMatchObject({ since: hoursAgo(9 * 24).toISOString(), held: 3, escapes: 1 });
    expect(answer.resting).toMatchObject({ frames: 4, shipped: 1 });
    expect((await states())["T-0002"]).toBe("shipped");
    expect(await escapes()).toEqual([
      { serial: "T-0002", reason: expect.stringMatching(/^Shipped .* gauge BG-1 was \+8\.0 µm off/) },
    ]);
    const { rows } = await getPool().query(sql`
      select topic from outbox where plant_id = ${plant.plantId} and topic in ('escape.opened', 'batch.held') order by topic`);
    expect(rows.map((row: { topic: string }) => row.topic)).toEqual(["batch.held", "escape.opened"]);
    expect((await verifyJournal(plant.plantId)).faults).toEqual([]);
  });

  it("sent again changes nothing and gets the same answer; other content is refused", async () => {
    const inspector = await plant.as("inspector");
    await measureSix();
    const failed = check("BG-1", 8, 1);
    const { status: _first, ...first } = await recordZeroCheck(inspector, failed);
    const { status, ...second } = await recordZeroCheck(inspector, failed);
    expect(status).toBe("repeated");
    expect(second).toEqual(first);
    await expect(recordZeroCheck(inspector, { ...failed, readingMm: 41 })).rejects.toMatchObject({
      code: "already-recorded-differently",
    });
    const { rows } = await getPool().query(sql`select 1 from zero_check where plant_id = ${plant.plantId}`);
    expect(rows).toHaveLength(1);
  });

  it("counts at its corrected time, with the device's own in the journal, and is known again by that", async () => {
    const inspector = await plant.as("inspector");
    const sent = { ...check("BG-1", 1, 0.5), clockSkewMs: HOUR_MS, deviceId: "dev-1" };
    const { at } = await recordZeroCheck(inspector, sent);
    expect(at).toBe(hoursAgo(1.5).toISOString());
    expect(await recordZeroCheck(inspector, sent)).toMatchObject({ status: "repeated", at });
    const { rows } = await getPool().query<{ payload: unknown }>(sql`
      select payload from journal_entry where plant_id = ${plant.plantId} and action = 'zero-check.passed'`);
    expect(rows[0]?.payload).toMatchObject({ at, deviceTime: sent.at, deviceId: "dev-1" });
    // A clock ahead by less than what is refused: taken for now, and known again all the same.
    const ahead = { ...check("BG-1", 1, -0.01) };
    await recordZeroCheck(inspector, ahead);
    expect(await recordZeroCheck(inspector, ahead)).toMatchObject({ status: "repeated" });
  });

  it("puts readings in doubt that arrive later, until the gauge is good again", async () => {
    const inspector = await plant.as("inspector");
    await recordZeroCheck(inspector, check("BG-1", 0, 4));
    await recordZeroCheck(inspector, check("BG-1", 6, 3));
    await recordZeroCheck(inspector, check("BG-1", 0.2, 2));
    const [late, after] = await record(measured("T-0001", "BG-1", 3.5), measured("T-0002", "BG-1", 1));
    expect(late).toMatchObject({ verdict: "not proven", held: true });
    expect(late?.doubts).toEqual([expect.stringMatching(/^gauge BG-1 was \+6\.0 µm off/)]);
    expect(after).toMatchObject({ verdict: "conforms", held: false, doubts: [] });
  });

  it("that fails and passes again half way through a frame puts only the readings before in doubt", async () => {
    const inspector = await plant.as("inspector");
    await recordZeroCheck(inspector, check("BG-1", 0, 4));
    await recordZeroCheck(inspector, check("BG-1", 6, 2.1));
    await recordZeroCheck(inspector, check("BG-1", 0, 2));
    const places = plant.names.map((name) => (name.kind === "bore" && name.seat === "ds" ? 0 : 0.5 * HOUR_MS));
    const [outcome] = await record({ ...measured("T-0001", "BG-1", 1.8), offsetsMs: places });
    const doubted = outcome?.reasons.filter(({ name }) => name === "bore");
    expect(doubted).toMatchObject([
      { seat: "ds", verdict: "not proven", reason: expect.stringMatching(/6\.0 µm off/) },
    ]);
    const frame = await getFrameRecord(inspector, "T-0001");
    expect(frame.judgement?.characteristics.filter(({ name }) => name === "bore").map((one) => one.verdict)).toEqual([
      "not proven",
      "conforms",
    ]);
  });

  it("judges again, when it comes late, a frame that began in the doubtful stretch and ended after the good one", async () => {
    const inspector = await plant.as("inspector");
    await recordZeroCheck(inspector, check("BG-1", 0, 4));
    await recordZeroCheck(inspector, check("BG-1", 0, 2));
    const places = plant.names.map((name) => (name.kind === "bore" && name.seat === "ds" ? 0 : 0.5 * HOUR_MS));
    const [before] = await record(
      { ...measured("T-0001", "BG-1", 1.8), offsetsMs: places },
      { ...measured("T-0002", "BG-1", 1.7), offsetsMs: plant.names.map((_, index) => index * 1000) },
    );
    expect(before).toMatchObject({ verdict: "conforms" });
    const { resting } = await recordZeroCheck(inspector, check("BG-1", 6, 2.1));
    expect(resting?.list.map(({ serial }) => serial)).toEqual(["T-0001"]);
    const frame = await getFrameRecord(inspector, "T-0001");
    expect(frame.judgement?.characteristics.filter(({ name }) => name === "bore").map((one) => one.verdict)).toEqual([
      "not proven",
      "conforms",
    ]);
    expect(await states()).toMatchObject({ "T-0001": "held", "T-0002": "measured" });
    const trace = await traceGauge(inspector, "BG-1", { from: hoursAgo(4).toISOString() });
    expect(trace.notProven).toBe(1);
    expect((await verifyJournal(plant.plantId)).faults).toEqual([]);
  });

  it("stands with its gauge at the station", async () => {
    const inspector = await plant.as("inspector");
    const [good, failed] = [check("BG-1", 0.5, 3), check("BG-1", 6, 1)];
    await recordZeroCheck(inspector, good);
    await recordZeroCheck(inspector, failed);
    const { gauges, zone, viewer } = await getStationPackage(inspector, plant.stationId);
    const zero = { ring: "R41", limitUm: 3, lastAt: failed.at, lastGoodAt: good.at, lastDriftUm: 6 };
    expect(gauges.find(({ key }) => key === "BG-1")).toMatchObject({ ringMm: 41, zeroFailed: true, zero });
    expect(gauges.find(({ key }) => key === "BG-2")).toMatchObject({ zeroFailed: false, zero: { lastAt: null } });
    expect(gauges.find(({ key }) => key === "TP-1")).toMatchObject({ zeroFailed: false, zero: null });
    expect({ zone, viewer }).toEqual({ zone: "UTC", viewer: { name: inspector.name, code: inspector.personId } });
  });

  it("frees what a good check that comes late takes out of doubt", async () => {
    const inspector = await plant.as("inspector");
    await measureSix();
    await recordZeroCheck(inspector, check("BG-1", 6, 1));
    expect((await states())["T-0001"]).toBe("held");
    await recordZeroCheck(inspector, check("BG-1", 1, 1.95));
    expect(await states()).toMatchObject({ "T-0001": "measured", "T-0002": "measured", "T-0003": "held" });
  });

  it("lets a frame go when it was measured again and the doubtful inspection withdrawn", async () => {
    const inspector = await plant.as("inspector");
    const [doubtful, again] = [measured("T-0001", "BG-1", 2), measured("T-0001", "BG-2", 0.5)];
    await record(doubtful);
    await recordZeroCheck(inspector, check("BG-1", 6, 1));
    const [second] = await record({ ...again, reason: "gauge found out" });
    expect(second).toMatchObject({ verdict: "conforms", frameVerdict: "not proven", held: true });
    const { frameState } = await withdrawInspection(await plant.as("engineer"), {
      id: doubtful.id,
      reason: "gauge found out",
    });
    expect(frameState).toBe("measured");
  });

  it("is seen by a recording that was judged before it", async () => {
    const inspector = await plant.as("inspector");
    const early = [measured("T-0001", "BG-1", 2), measured("T-0002", "BG-2", 2)];
    // Judged with what is remembered of the gauges; the check is written past this process's memory.
    await record(measured("T-0003", "BG-1", 2.5));
    const { plantId } = plant;
    await recordZeroCheck(inspector, check("BG-1", 0, 3));
    await record(measured("T-0004", "BG-1", 2.4));
    await getPool().query(sql`
      insert into zero_check (plant_id, id, gauge_id, ring_id, at, reading_mm, drift_um, limit_um, occasion)
      select ${plantId}, ${uuidV7()}, id, ring_id, ${hoursAgo(1)}, 41.009, 9, 3, 'shift start'
      from gauge where plant_id = ${plantId} and key = 'BG-1'`);
    await getPool().query(sql`
      update journal_chain set length = length + 1 where plant_id = ${plantId} and chain = 'gauges'`);
    const [doubted, other] = await record(...early);
    expect(doubted).toMatchObject({ verdict: "not proven", frameVerdict: "not proven", held: true });
    expect(other).toMatchObject({ verdict: "conforms", held: false });
  });

  it("is refused without a ring, for an unknown gauge, far off, in the future, and to whom may not", async () => {
    const inspector = await plant.as("inspector");
    const refused = (change: Partial<RecordZeroCheck>, code: string) =>
      expect(recordZeroCheck(inspector, { ...check("BG-1", 0, 1), ...change })).rejects.toMatchObject({ code });
    await refused({ gauge: "TP-1" }, "refused");
    await refused({ gauge: "XX" }, "not-found");
    await refused({ readingMm: 42 }, "invalid-input");
    await refused({ at: new Date(end + HOUR_MS).toISOString() }, "invalid-input");
    await refused({ inspectorCode: "nobody" }, "not-found");
    const dock = await plant.as("dock");
    await expect(recordZeroCheck(dock, check("BG-1", 0, 1))).rejects.toMatchObject({ code: "forbidden" });
    const { rows } = await getPool().query(sql`select 1 from zero_check where plant_id = ${plant.plantId}`);
    expect(rows).toHaveLength(0);
  });
});

describe("what a gauge cannot see", () => {
  it("makes ovality by a three-point head not proven, and holds nothing, since ovality is not critical", async () => {
    const [outcome] = await record(measured("T-0001", "TP-1", 1));
    expect(outcome).toMatchObject({ verdict: "not proven", held: false });
    expect(outcome?.reasons.map(({ name, reason }) => [name, reason])).toEqual([
      ["ovality", expect.stringMatching(/does not see lobes of order 2/)],
      ["ovality", expect.stringMatching(/does not see lobes of order 2/)],
    ]);
  });

  it("doubts nothing of two-point bores and an indicator sweep", async () => {
    const [proper] = await record(measured("T-0001", "BG-1", 1));
    expect(proper).toMatchObject({ verdict: "conforms" });
  });
});

describe("plugs and bar", () => {
  it("hold a frame whose readings they contradict, name both, and hold its batch", async () => {
    const attributes = { plugs: { "ds.plug.40.95": "no" }, bars: { "bar.A": { result: "no" } } } as const;
    const [outcome] = await record({ ...plant.inspection("T-0001"), attributes });
    // Common practice, no source: 40.95 enters a seat of 40.975 by hand; a bar that does not pass tells of a tilt.
    expect(outcome).toMatchObject({ verdict: "not proven", held: true });
    const batch = await readBatchEvidence(getPool(), plant.plantId, await batchId());
    const held = batch?.decision.reasons.map((one) => one.text) ?? [];
    expect(held).toContainEqual(
      expect.stringMatching(/^Bore of the DS seat is not proven.*plug 40\.95 does not enter, yet the smallest reading/),
    );
    expect(held).toContainEqual(expect.stringMatching(/^Tilt of the NDS seat is not proven.*bar A will not pass, yet/));
  });

  it("say nothing where they agree", async () => {
    const attributes = { plugs: { "ds.plug.40.95": "hand" }, bars: { "bar.A": { result: "free" } } } as const;
    const [outcome] = await record({ ...plant.inspection("T-0001"), attributes });
    expect(outcome?.warnings).toEqual([]);
  });
});

describe("the stretches in doubt", () => {
  it("are those that the core computes from all checks", async () => {
    const random = createSeededGenerator(41);
    const checks: ZeroCheck[] = Array.from({ length: 60 }, (_, index) => ({
      atMs: end - (60 - index) * HOUR_MS,
      certifiedMm: 41,
      readingMm: Number((41 + (random.normal() * 3) / 1000).toFixed(4)),
    }));
    await getPool().query(sql`
      insert into zero_check (plant_id, id, gauge_id, ring_id, at, reading_mm, drift_um, limit_um, occasion)
      select ${plant.plantId}, r.id, g.id, g.ring_id, r.at, r.reading, (r.reading - 41) * 1000, 3, 'shift start'
      from unnest(${checks.map(() => uuidV7())}::uuid[], ${checks.map((one) => new Date(one.atMs))}::timestamptz[],
        ${checks.map((one) => one.readingMm)}::float8[]) as r(id, at, reading)
      join gauge g on g.plant_id = ${plant.plantId} and g.key = 'BG-1'`);
    const found = (await readSuspectSpans(getPool(), plant.plantId)).spans.get("BG-1") ?? [];
    expect(found.length).toBeGreaterThan(5);
    expect(found.map(({ afterMs, untilMs }) => ({ afterMs, untilMs }))).toEqual(
      suspectSpans(checks, 3).map(({ afterMs, untilMs }) => ({ afterMs, untilMs })),
    );
  });
});

describe("tracing a gauge", () => {
  it("lists frames, batches, shipments, escapes and checks since the last good check", async () => {
    const inspector = await plant.as("inspector");
    await recordZeroCheck(inspector, check("BG-1", 1, 3));
    await measureSix();
    await shipFrame(await plant.as("dock"), { id: uuidV7(), serial: "T-0003" });
    await recordZeroCheck(inspector, check("BG-1", 12, 1));
    const trace = await traceGauge(inspector, "BG-1");
    expect(trace).toMatchObject({ from: hoursAgo(3).toISOString(), notProven: 3, escapes: 1, decisions: [] });
    expect(trace.resting).toMatchObject({ frames: 3, shipped: 1, batches: [{ key: TEST_BATCH, held: 2 }] });
    expect(trace.zeroChecks.map(({ driftUm, passed }) => [driftUm, passed])).toEqual([
      [1, true],
      [12, false],
    ]);
    const all = await traceGauge(inspector, "BG-1", { from: hoursAgo(5).toISOString() });
    expect(all.resting.frames).toBe(4);
    await expect(traceGauge(inspector, "XX")).rejects.toMatchObject({ code: "not-found" });
    await expect(traceGauge(await plant.as("dock"), "BG-1")).rejects.toMatchObject({ code: "forbidden" });
  });
});

describe("over HTTP", () => {
  const call = async (token: string, method: "GET" | "POST", path: string, body?: unknown) => {
    const request = new Request(`http://localhost:3000/api/v1/${path}`, {
      method,
      headers: { "content-type": "application/json", authorization: `Bearer ${token}` },
      ...(body === undefined ? {} : { body: JSON.stringify(body) }),
    });
    const key = path.split("/")[1] ?? "";
    const handler = method === "POST" ? postZeroCheck : getTrace;
    const response = await handler(request, { params: Promise.resolve(method === "POST" ? {} : { key }) });
    return { status: response.status, body: await response.json() };
  };

  it("records with readings:write and traces with results:read", async () => {
    const administrator = await plant.as("administrator");
    const { token: writer } = await createToken(administrator, { name: "rig", scopes: ["readings:write"] });
    const { token: reader } = await createToken(administrator, { name: "report", scopes: ["results:read"] });
    await measureSix();
    const sent = check("BG-1", 7, 1);
    const posted = await call(writer, "POST", "zero-checks", sent);
    expect(posted).toMatchObject({ status: 200, body: { passed: false, held: 4, resting: { frames: 4 } } });
    expect(await call(writer, "POST", "zero-checks", sent)).toMatchObject({
      status: 200,
      body: { status: "repeated" },
    });
    expect(await call(reader, "POST", "zero-checks", check("BG-1", 7, 1))).toMatchObject({ status: 403 });
    expect(await call(writer, "POST", "zero-checks", { ...sent, readingMm: "41" })).toMatchObject({ status: 400 });
    expect(await call(writer, "POST", "zero-checks", { ...sent, occasion: "now and then" })).toMatchObject({
      status: 400,
    });
    const traced = await call(reader, "GET", "gauges/BG-1/trace");
    expect(traced).toMatchObject({ status: 200, body: { gauge: "BG-1", notProven: 4, resting: { frames: 4 } } });
    expect(await call(writer, "GET", "gauges/BG-1/trace")).toMatchObject({ status: 403 });
  });
});
