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
  return { status: answer.status, retry: answer.headers.get("retry-after"), body: await answer.json() };
};

/** Counts the waits for a lock that begin in this database, each by who waits and since when. */
function watchWaits(): { readonly end: () => Promise<ReadonlySet<string>> } {
  const seen = new Set<string>();
  let isOver = false;
  const watching = (async () => {
    while (!isOver) {
      const { rows } = await database.owner.query<{ wait: string }>(`
        select concat(l.pid, ' ', l.waitstart) as wait from pg_locks l join pg_stat_activity a on a.pid = l.pid
        where not l.granted and l.waitstart is not null and a.datname = current_database()`);
      for (const { wait } of rows) seen.add(wait);
      await new Promise((resolve) => setTimeout(resolve, 20));
    }
    return seen;
  })();
  return {
    end: () => {
      isOver = true;
      return watching;
    },
  };
}

describe("a line whose lock is held by a writer that hangs", () => {
  it("ends everybody who waits behind it together, with words, and works again afterwards", async () => {
    const holder = await database.pool.connect();
    await holder.query("begin");
    await holder.query("select 1 from journal_chain where chain = 'line:L1' for update");
    const waits = watchWaits();
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
    // All had their answer while the lock was held. One after the other, each would have waited for it by itself: ten waits.
    expect((await waits.end()).size).toBeLessThanOrEqual(2);
    await holder.query("rollback");
    holder.release();
    expect(await send("T-0002")).toMatchObject({ status: 200, body: { status: "recorded" } });
  });
});
