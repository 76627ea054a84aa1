import { afterAll, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { POST } from "@/app/api/v1/inspections/route";
import { formatReadingName } from "@/lib/core/metrology/reading-name";
import type { RecordInspection } from "@/lib/schemas/inspection";
import { sql } from "@/lib/server/db/sql";
import { draftPlan, releasePlan } from "@/lib/server/plans/commands";
import { createToken } from "@/lib/server/tokens/commands";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, type TestPlant } from "../../helpers/plant";
import { setTestEnvironment } from "../auth/plant-fixture";

let database: TestDatabase;
let plant: TestPlant;
let token = "";
beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
});
afterAll(async () => database.drop());
beforeEach(async () => {
  plant = await createTestPlant({ frames: 4 });
  token = (await createToken(await plant.as("administrator"), { name: "gauge", scopes: ["readings:write"] })).token;
});

async function send(body: unknown) {
  const request = new Request("http://localhost:3000/api/v1/inspections", {
    method: "POST",
    headers: { "content-type": "application/json", authorization: `Bearer ${token}` },
    body: typeof body === "string" ? body : JSON.stringify(body),
  });
  const response = await POST(request, { params: Promise.resolve({}) });
  return { status: response.status, body: await response.json() };
}
const stored = async (): Promise<number> =>
  (await database.pool.query(sql`select count(*)::int as n from inspection where plant_id = ${plant.plantId}`)).rows[0]
    .n;
/** One reading replaced by something that JSON can carry and a gauge cannot mean. */
const withFirst = (inspection: RecordInspection, value: unknown) => ({
  ...inspection,
  readings: inspection.readings.map((reading, index) => (index === 0 ? value : reading)),
});

describe("POST /api/v1/inspections, bad input", () => {
  it.each([
    ["a text", "forty"],
    ["a number with a comma", "40,975"],
    ["a missing decimal sign", 40975],
    ["a reading of 409.75 instead of 40.975", 409.75],
    ["swapped digits", 49.075],
    ["an object", { value: 41 }],
  ])("answers %s with the reading named, and stores nothing", async (_, value) => {
    const { status, body } = await send(withFirst(plant.inspection("T-0001"), value));
    expect(status).toBe(400);
    expect(JSON.stringify(body.fields)).toMatch(/readings/);
    expect(body.detail).toMatch(/stored|kept|nothing/i);
    expect(await stored()).toBe(0);
  });

  it("says in words what is missing or too much, of one and of many", async () => {
    for (const [body, words] of [
      [{}, /id: must be given \(and \d more\)|must be given/],
      [[], /must be an object/],
      [{ inspections: 7 }, /must be a list/],
      [{ inspections: [] }, /must have at least 1/],
      [{ inspections: Array(1001).fill(1) }, /must have at most 1000/],
      [{ inspections: [1], more: 1 }, /what is not asked for: more/],
    ] as const) {
      const { status, body: answer } = await send(body);
      expect([status, answer.detail]).toEqual([400, expect.stringMatching(words)]);
      expect(JSON.stringify(answer)).not.toMatch(/Invalid input|Too (?:big|small)|Unrecognized/);
    }
  });

  it("names the likely slip", async () => {
    expect((await send(withFirst(plant.inspection("T-0001"), 40975))).body.detail).toMatch(/40\.975/);
    expect((await send(withFirst(plant.inspection("T-0001"), 49.075))).body.detail).toMatch(/40\.975|swapped/);
  });

  it("refuses NaN, Infinity and a body that breaks off, and 10 MB", async () => {
    const text = JSON.stringify(plant.inspection("T-0001"));
    expect((await send(text.replace("40.975", "NaN"))).status).toBe(400);
    expect((await send(text.replace("40.975", "1e999"))).status).toBe(400);
    expect((await send(text.slice(0, -20))).status).toBe(400);
    const large = await send(`{"pad":"${"x".repeat(10 * 2 ** 20)}"}`);
    expect(large.status).toBe(413);
    expect(large.body.detail).toMatch(/MB|large/i);
    expect(await stored()).toBe(0);
  });

  it("takes readings of a plan that was revised meanwhile under the revision they were keyed by, and says so", async () => {
    const keyed = plant.inspection("T-0001");
    const next = await draftPlan(plant.system, {
      key: "P1",
      title: "Plan 1",
      revision: "2",
      drawingRevisionId: plant.drawingRevisionId,
      readingNames: plant.names.slice(0, 20).map(formatReadingName),
      frames: { kind: "all" },
    });
    const early = await send({ ...plant.inspection("T-0002"), planRevisionId: next.id });
    expect(early).toMatchObject({ status: 404, body: { code: "not-found" } });
    await releasePlan(plant.system, next.id);
    const { status, body } = await send(keyed);
    expect(status).toBe(200);
    expect(body.warnings.join(" ")).toMatch(/revised while this frame was measured/);
    const wrong = await send({ ...plant.inspection("T-0003"), planRevisionId: next.id });
    expect(wrong.status).toBe(400);
    expect(wrong.body.detail).toMatch(/asks for 20 readings/);
  });

  it("records the good ones of many and answers every other one by itself", async () => {
    const { status, body } = await send({
      inspections: [
        plant.inspection("T-0001"),
        plant.inspection("NOBODY"),
        withFirst(plant.inspection("T-0002"), 41.9),
      ],
    });
    expect(status).toBe(200);
    expect([body.recorded, body.refused]).toEqual([2, 1]);
    expect(body.results[1].error).toMatchObject({ code: "not-found", status: 404 });
    expect(await stored()).toBe(2);
  });
});

describe("keys in capitals", () => {
  it("are the same keys: of the inspection, of the station and of the plan", async () => {
    const inspection = plant.inspection("T-0001");
    const capitals = {
      ...inspection,
      id: inspection.id.toUpperCase(),
      stationId: inspection.stationId.toUpperCase(),
      planRevisionId: inspection.planRevisionId.toUpperCase(),
    };
    expect(await send(capitals)).toMatchObject({ status: 200, body: { status: "recorded", id: inspection.id } });
    expect(await send(capitals)).toMatchObject({ status: 200, body: { status: "repeated" } });
    expect(await send(inspection)).toMatchObject({ status: 200, body: { status: "repeated" } });
    expect(await stored()).toBe(1);
  });
});

describe("the database itself", () => {
  it.each([
    ["a reading that is NaN", "readings = array_append(readings[2:], 'NaN'::float8)"],
    ["a feature that is infinite", "features = array_append(features, 'Infinity'::float8)"],
    ["a state that is none", "states = array_fill(7::int2, array[cardinality(readings)])"],
    ["arrays that do not match", "offsets_ms = '{1,2,3}'"],
    ["a second inspection without a reason", "ordinal = 2"],
    ["a verdict that is none", "verdict = 'good'"],
  ])("keeps out %s", async (_, change) => {
    await send(plant.inspection("T-0001"));
    const client = await database.owner.connect();
    try {
      await client.query("begin");
      await client.query("alter table inspection disable trigger user");
      await expect(
        client.query(`update inspection set ${change} where plant_id = $1`, [plant.plantId]),
      ).rejects.toMatchObject({
        code: "23514",
      });
      await client.query("rollback");
    } finally {
      client.release();
    }
  });
});
