import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { POST as postInspections } from "@/app/api/v1/inspections/route";
import { recordInspection } from "@/lib/server/inspections/record-inspections";
import { createToken } from "@/lib/server/tokens/commands";
import { setTestEnvironment } from "../auth/plant-fixture";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, type TestPlant } from "../../helpers/plant";

let database: TestDatabase;
let plant: TestPlant;
let bearer: string;

beforeAll(async () => {
  setTestEnvironment();
  process.env.LOG_LEVEL = "error";
  database = await createTestDatabase();
  plant = await createTestPlant({ frames: 12, plan: "routine" });
  bearer = `Bearer ${(await createToken(plant.system, { name: "rig", scopes: ["readings:write"] })).token}`;
  await recordInspection(plant.system, plant.inspection("T-0001"));
});
afterAll(() => database.drop());

const send = async (serial: string) => {
  const headers = { authorization: bearer, "content-type": "application/json" };
  const body = JSON.stringify(plant.inspection(serial));
  const request = new Request("http://localhost:3000/api/v1/inspections", { method: "POST", headers, body });
  const answer = await postInspections(request, { params: Promise.resolve({}) });
  return { status: answer.status, retry: answer.headers.get("retry-after"), body: await answer.json(), at: Date.now() };
};

describe("a line whose lock is held by a writer that hangs", () => {
  it("ends everybody who waits behind it together, with words, and works again afterwards", async () => {
    const holder = await database.pool.connect();
    await holder.query("begin");
    await holder.query("select 1 from journal_chain where chain = 'line:L1' for update");
    const begun = Date.now();
    const waiting: ReturnType<typeof send>[] = [];
    for (let n = 2; n < 12; n += 1) {
      waiting.push(send(`T-${String(n).padStart(4, "0")}`));
      await new Promise((resolve) => setTimeout(resolve, 100));
    }
    const other = await createTestPlant({ frames: 1, plan: "routine" });
    await expect(recordInspection(other.system, other.inspection("T-0001"))).resolves.toMatchObject({
      status: "recorded",
    });
    const answers = await Promise.all(waiting);
    for (const { status, body, retry } of answers) {
      expect(status).toBe(503);
      expect(retry).toBe("2");
      expect(body).toMatchObject({
        code: "unavailable",
        detail: expect.stringMatching(/holds this one up. Nothing of it was stored/),
      });
    }
    const ends = answers.map(({ at }) => at);
    // One after the other, each would wait its own 5 s: 50 s in all.
    expect(Math.max(...ends) - Math.min(...ends)).toBeLessThan(5000);
    expect(Math.max(...ends) - begun).toBeLessThan(20_000);
    await holder.query("rollback");
    holder.release();
    expect(await send("T-0002")).toMatchObject({ status: 200, body: { status: "recorded" } });
  });
});
