import { afterAll, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { POST } from "@/app/api/v1/inspections/route";
import { sql } from "@/lib/server/db/sql";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
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
  plant = await createTestPlant({ frames: 3 });
  token = (await createToken(await plant.as("administrator"), { name: "gauge", scopes: ["readings:write"] })).token;
});

async function send(body: unknown) {
  const request = new Request("http://localhost:3000/api/v1/inspections", {
    method: "POST",
    headers: { "content-type": "application/json", authorization: `Bearer ${token}` },
    body: JSON.stringify(body),
  });
  const response = await POST(request, { params: Promise.resolve({}) });
  return { status: response.status, body: await response.json() };
}
const stored = async (): Promise<string[]> =>
  (
    await database.pool.query(sql`
      select f.serial from inspection i join frame f on f.plant_id = i.plant_id and f.id = i.frame_id
      where i.plant_id = ${plant.plantId} order by f.serial`)
  ).rows.map((row: { serial: string }) => row.serial);

const huge = (value: number) => ({ change: { "ds.bore.2@12-6": value } });

describe("one inspection of many that cannot be kept", () => {
  it.each([
    ["the character U+0000 in its serial", { serial: "T-00\u000001" }],
    ["half a surrogate pair in its device", { deviceId: "tablet \ud83d" }],
    ["the character U+0000 in its remark", { attributes: { remark: "a\u0000b" } }],
    ["half a surrogate pair in a name", { attributes: { cannotReasons: { "\udc00": "dirty" } } }],
    ["an offset of months", { offsetsMs: "months" }],
    ["a time before clocks were set", { deviceTime: "1970-01-01T00:00:07Z" }],
    ["a reading that no shell has, confirmed", huge(1e308)],
    ["a negative reading, confirmed", huge(-1e300)],
  ])("costs only itself: %s", async (_, wrong) => {
    const good = plant.inspection("T-0001");
    const last = plant.inspection("T-0003");
    const change = "change" in wrong ? wrong.change : {};
    const bad: Record<string, unknown> = { ...plant.inspection("T-0002", change), ...("change" in wrong ? {} : wrong) };
    if ("change" in wrong) bad.states = good.readings.map((value) => (value === null ? "measured" : "confirmed"));
    if (bad.offsetsMs === "months") bad.offsetsMs = good.readings.map(() => 2 ** 31);
    const { status, body } = await send({ inspections: [good, bad, last] });
    expect(status).toBe(200);
    expect([body.recorded, body.refused]).toEqual([2, 1]);
    expect(body.results[1].error.detail).toMatch(/Nothing was/);
    const alone = await send(bad);
    expect(alone.status).toBe(400);
    expect(alone.body.detail).toMatch(/Nothing was/);
    expect(await stored()).toEqual(["T-0001", "T-0003"]);
    expect((await verifyJournal(plant.plantId)).faults).toEqual([]);
  });

  it("is found by the command itself, too, where a value reaches the database", async () => {
    const bad = { ...plant.inspection("T-0002"), tool: "reamer\u0000" };
    const outcomes = await recordInspections(plant.system, [
      plant.inspection("T-0001"),
      bad,
      plant.inspection("T-0003"),
    ]);
    expect(outcomes.map((one) => one.status)).toEqual(["recorded", "refused", "recorded"]);
    expect(await stored()).toEqual(["T-0001", "T-0003"]);
  });
});
