import { afterAll, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { uuidV7 } from "@/lib/schemas/identifier";
import { sql } from "@/lib/server/db/sql";
import { getPool } from "@/lib/server/db/client";
import { inSqlTransaction } from "@/lib/server/db/transaction";
import { recordZeroCheck } from "@/lib/server/gauges/commands";
import { createGauge, createSettingRing } from "@/lib/server/gauges/change-gauges";
import { recordInspection } from "@/lib/server/inspections/record-inspections";
import { findEvents } from "@/lib/server/messages/find-events";
import { acknowledgeMessage, countMessages, listMessages } from "@/lib/server/messages/inbox";
import { addSubscription, changeMailServer, removeSubscription } from "@/lib/server/messages/sending-commands";
import { getSending } from "@/lib/server/messages/sending-queries";
import { tellEvents } from "@/lib/server/messages/tell-events";
import { writeEvents, type WrittenEvent } from "@/lib/server/outbox/write-events";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, TEST_BATCH, type TestPlant } from "../../helpers/plant";
import { createSignIn, setTestEnvironment } from "../auth/plant-fixture";

let database: TestDatabase;
let plant: TestPlant;

beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
});
afterAll(async () => database.drop());
beforeEach(async () => {
  plant = await createTestPlant({ frames: 6 });
});

const HOUR = 3_600_000;
const writes = (events: readonly WrittenEvent[], now = new Date()) =>
  inSqlTransaction((db) => writeEvents(db, plant.plantId, events, now));
const gaugeFailed = (gauge: string): WrittenEvent => ({
  topic: "gauge.failed",
  payload: { gauge, driftUm: 8, limitUm: 3, heldFrames: 2, heldBatches: 1, escapes: 0 },
});
const mailServer = {
  host: "mail.plant.example",
  port: 587,
  security: "starttls",
  from: "shellgate@plant.example",
} as const;

async function holdBatch(): Promise<void> {
  // A bore 0.2 mm over the drawing's 41 mm does not conform, whatever U is.
  const { names } = plant;
  const bore = names.findIndex(({ kind }) => kind === "bore");
  const inspection = plant.inspection("T-0001");
  const readings = inspection.readings.map((value, place) => (place === bore ? 41.2 : value));
  await recordInspection(plant.system, { ...inspection, readings });
}

describe("a held batch", () => {
  it("is one message for those who can act, with the reason, what to do and the page", async () => {
    await holdBatch();
    expect(await tellEvents(plant.plantId)).toBe(1);
    const engineer = await plant.as("engineer");
    const { open } = await listMessages(engineer);
    expect(open).toMatchObject([
      {
        kind: "batch.held",
        title: `Batch ${TEST_BATCH} is held`,
        happened: expect.stringMatching(/of Test supplier, line Line 1, was held automatically\. .*T-0001/),
        todo: expect.stringMatching(/No frame of it ships\. Open the batch/),
        path: `/gate/batches/${TEST_BATCH}`,
        events: 1,
        acknowledgedAt: null,
      },
    ]);
    expect((await listMessages(await plant.as("dock"))).open).toEqual([]);
    expect(await countMessages(await plant.as("supplier_manager"))).toBe(1);
    expect(await countMessages(await plant.as("inspector"))).toBe(0);
  });

  it("is told once, whoever tells at once and again", async () => {
    await holdBatch();
    await Promise.all([tellEvents(plant.plantId), tellEvents(plant.plantId), tellEvents(plant.plantId)]);
    await tellEvents(plant.plantId);
    expect(await countMessages(await plant.as("engineer"))).toBe(1);
  });

  it("acknowledged by one is acknowledged for all, and by whom is seen", async () => {
    await holdBatch();
    await tellEvents(plant.plantId);
    const [engineer, manager] = [await plant.as("engineer"), await plant.as("supplier_manager")];
    const id = (await listMessages(engineer)).open[0]?.id ?? "";
    await expect(acknowledgeMessage(await plant.as("dock"), { id })).rejects.toMatchObject({ code: "not-found" });
    await expect(acknowledgeMessage(await plant.as("auditor"), { id })).rejects.toMatchObject({ code: "forbidden" });
    await acknowledgeMessage(engineer, { id });
    await acknowledgeMessage(manager, { id });
    expect(await countMessages(manager)).toBe(0);
    expect((await listMessages(manager)).done).toMatchObject([{ id, acknowledgedBy: engineer.name }]);
  });

  it("leaves nothing in the outbox that nobody reads", async () => {
    await recordInspection(plant.system, plant.inspection("T-0002"));
    await holdBatch();
    await tellEvents(plant.plantId);
    const { rows } = await getPool().query(sql`
      select topic, delivered_at is not null as told from outbox where plant_id = ${plant.plantId}`);
    expect(rows).toEqual([{ topic: "batch.held", told: true }]);
  });
});

describe("a gauge that failed", () => {
  it("is told with what rests on it", async () => {
    await createSettingRing(plant.system, { key: "R-41", certifiedSizeMm: 41, uncertaintyUm: 1 });
    await createGauge(plant.system, {
      key: "BG-1",
      name: "Bore gauge",
      kind: "bore",
      principle: "two-point",
      resolutionUm: 1,
      rangeLower: 35,
      rangeUpper: 50,
      ring: "R-41",
      calibratedAt: "2020-01-01T00:00:00Z",
      calibratedUntil: "2029-12-31T00:00:00Z",
    });
    await recordZeroCheck(await plant.as("inspector"), {
      id: uuidV7(),
      gauge: "BG-1",
      readingMm: 41.008,
      occasion: "other",
    });
    await tellEvents(plant.plantId);
    expect((await listMessages(await plant.as("engineer"))).open).toMatchObject([
      {
        kind: "gauge.failed",
        title: "Gauge BG-1 failed its zero check",
        happened: expect.stringMatching(/\+8\.0\u00a0µm off/),
        path: "/setup/gauges/BG-1",
      },
    ]);
  });
});

describe("a storm", () => {
  it("is one message that grows, and one mail to each", async () => {
    await changeMailServer(plant.system, mailServer);
    await createSignIn(plant.system, `${uuidV7()}@plant.example`, "engineer");
    await writes(Array.from({ length: 40 }, (_, place) => gaugeFailed(`G-${place}`)));
    await tellEvents(plant.plantId);
    await writes([gaugeFailed("G-late"), gaugeFailed("G-0")]);
    await tellEvents(plant.plantId);
    const engineer = await plant.as("engineer");
    const { open } = await listMessages(engineer);
    expect(open).toMatchObject([{ title: "42 gauges failed their zero check", events: 42, path: "/setup/gauges" }]);
    expect(open[0]?.happened).toMatch(/G-0, G-1, G-2, .* and 31 more/);
    const { rows } = await getPool().query(sql`select 1 as one from mail_delivery where plant_id = ${plant.plantId}`);
    expect(rows).toHaveLength(1);
    await acknowledgeMessage(engineer, { id: open[0]?.id ?? "" });
    const { rows: left } = await getPool().query(sql`
      select 1 as one from mail_delivery where plant_id = ${plant.plantId} and state = 'waiting'`);
    expect(left).toHaveLength(0);
  });
});

describe("what is found by looking", () => {
  it("is told once: a gauge that is due, and again when it is over", async () => {
    const now = new Date("2029-12-28T10:00:00Z");
    await findEvents(plant.plantId, now);
    await findEvents(plant.plantId, now);
    const count = async () => {
      const { rows } = await getPool().query<{ count: number }>(sql`
        select count(*)::int as count from outbox where plant_id = ${plant.plantId} and topic = 'gauge.due'`);
      return rows[0]?.count;
    };
    // The six gauges of the test plant end on 2029-12-31.
    expect(await count()).toBe(6);
    await findEvents(plant.plantId, new Date("2030-01-01T00:00:00Z"));
    expect(await count()).toBe(12);
  });

  it("is a tablet that is silent with readings on it, and none without", async () => {
    const seen = new Date(Date.now() - HOUR);
    await getPool().query(sql`
      insert into device (plant_id, id, name, station_id, last_seen_at, queue) values
        (${plant.plantId}, 'a', 'Tablet 1', ${plant.stationId}, ${seen}, '{"waiting": 7}'),
        (${plant.plantId}, 'b', 'Tablet 2', ${plant.stationId}, ${seen}, '{"waiting": 0}'),
        (${plant.plantId}, 'c', 'Tablet 3', ${plant.stationId}, now(), '{"waiting": 7}'),
        (${plant.plantId}, 'd', 'Tablet 4', null, ${seen}, null)`);
    await findEvents(plant.plantId);
    await tellEvents(plant.plantId);
    const { open } = await listMessages(await plant.as("engineer"));
    expect(open.map(({ title }) => title)).toEqual(["Tablet 1 is silent, 7\u00a0inspections on it"]);
  });

  it("is a batch that is held for a day without a decision", async () => {
    await holdBatch();
    await findEvents(plant.plantId, new Date(Date.now() + 23 * HOUR));
    await findEvents(plant.plantId, new Date(Date.now() + 25 * HOUR));
    await findEvents(plant.plantId, new Date(Date.now() + 26 * HOUR));
    const { rows } = await getPool().query(sql`
      select payload ->> 'batch' as batch from outbox where plant_id = ${plant.plantId} and topic = 'decision.waiting'`);
    expect(rows).toEqual([{ batch: TEST_BATCH }]);
  });
});

describe("subscriptions", () => {
  it("hold by themselves until the first change, which changes nothing else", async () => {
    const administrator = await plant.as("administrator");
    const before = (await getSending(administrator)).subscriptions;
    expect(before.every(({ id }) => id === null)).toBe(true);
    await addSubscription(administrator, { role: "dock", kinds: ["batch.held"], channel: "app", timing: "at once" });
    const after = (await getSending(administrator)).subscriptions;
    expect(after.slice(0, -1).map(({ id: _, ...one }) => one)).toEqual(before.map(({ id: _, ...one }) => one));
    expect(after.at(-1)).toMatchObject({ whom: { role: "dock" }, kinds: ["batch.held"], channel: "app" });
    await holdBatch();
    await tellEvents(plant.plantId);
    expect(await countMessages(await plant.as("dock"))).toBe(1);
  });

  it("that are taken away stay away, also the last one", async () => {
    const administrator = await plant.as("administrator");
    await removeSubscription(administrator, { place: 0 });
    for (const { id } of (await getSending(administrator)).subscriptions)
      if (id !== null) await removeSubscription(administrator, { id });
    expect((await getSending(administrator)).subscriptions).toEqual([]);
    await holdBatch();
    await tellEvents(plant.plantId);
    expect(await countMessages(await plant.as("engineer"))).toBe(0);
  });

  it("of a line or person that is not the plant's are refused", async () => {
    const administrator = await plant.as("administrator");
    const other = { kinds: ["batch.held"], channel: "mail" as const, timing: "at once" as const };
    await expect(addSubscription(administrator, { ...other, personId: uuidV7() })).rejects.toMatchObject({
      code: "not-found",
    });
    await expect(addSubscription(administrator, { ...other, role: "dock", lineId: uuidV7() })).rejects.toMatchObject({
      code: "not-found",
    });
    await expect(addSubscription(administrator, { ...other, role: "dock", kinds: ["weather"] })).rejects.toMatchObject({
      code: "invalid-input",
    });
    await expect(addSubscription(administrator, other)).rejects.toMatchObject({ code: "invalid-input" });
  });
});
