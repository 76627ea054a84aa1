import { afterAll, afterEach, beforeAll, describe, expect, it, vi } from "vitest";
import { GET as getHealth } from "@/app/api/v1/health/route";
import { POST as postInspections } from "@/app/api/v1/inspections/route";
import { POST as postZeroCheck } from "@/app/api/v1/zero-checks/route";
import { uuidV7 } from "@/lib/schemas/identifier";
import { getPrisma } from "@/lib/server/db/client";
import { failureOf } from "@/lib/server/doors/failure";
import { createToken } from "@/lib/server/tokens/commands";
import { setTestEnvironment } from "../auth/plant-fixture";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { livingWorker, type TestWorker } from "../../helpers/living-worker";
import { createTestPlant, type TestPlant } from "../../helpers/plant";

let database: TestDatabase;
let plant: TestPlant;
let bearer: string;
let worker: TestWorker;

beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
  plant = await createTestPlant({ frames: 4, plan: "routine" });
  bearer = `Bearer ${(await createToken(plant.system, { name: "rig", scopes: ["readings:write"] })).token}`;
  worker = await livingWorker();
});
afterAll(async () => {
  await worker.end();
  await database.drop();
});
afterEach(() => vi.useRealTimers());

/** A server that answers a write as one does whose disk is full: SQLSTATE 53100 (PostgreSQL manual, appendix A). */
async function withFullDisk(work: () => Promise<void>): Promise<void> {
  await database.owner.query(`
    create function no_room() returns trigger language plpgsql as $$ begin
      raise exception 'could not extend file "base/5/16384": No space left on device' using errcode = '53100';
    end $$;
    create trigger no_room before insert on journal_entry for each statement execute function no_room()`);
  const written = vi.spyOn(process.stderr, "write").mockReturnValue(true);
  try {
    await work();
  } finally {
    written.mockRestore();
    await database.owner.query("drop trigger no_room on journal_entry; drop function no_room()");
  }
}

const post = async (route: typeof postInspections, body: unknown) => {
  const headers = { authorization: bearer, "content-type": "application/json" };
  const request = new Request("http://localhost:3000/x", { method: "POST", headers, body: JSON.stringify(body) });
  const answer = await route(request, { params: Promise.resolve({}) });
  return { status: answer.status, body: await answer.json() };
};
const health = async () => {
  const answer = await getHealth(new Request("http://localhost:3000/api/v1/health"), { params: Promise.resolve({}) });
  return { status: answer.status, body: await answer.json() };
};

describe("a disk without room", () => {
  it("is answered with 507 and words, and by health, and nothing is half recorded", async () => {
    expect(await health()).toMatchObject({ status: 200, body: { status: "ok", database: "ok" } });
    const inspection = plant.inspection("T-0001");
    await withFullDisk(async () => {
      const full = {
        status: 507,
        body: {
          code: "storage-full",
          detail: expect.stringMatching(/no room left to write.*nothing that was stored is lost/),
        },
      };
      expect(await post(postInspections, inspection)).toMatchObject(full);
      expect(await post(postInspections, { inspections: [inspection, plant.inspection("T-0002")] })).toMatchObject(
        full,
      );
      const check = { id: uuidV7(), gauge: "none", readingMm: 41, occasion: "other" };
      expect((await post(postZeroCheck as typeof postInspections, check)).status).toBeLessThan(500);
      const error = await getPrisma()
        .journalEntry.create({
          data: {
            plantId: plant.plantId,
            chain: "x",
            sequence: 1n,
            at: new Date(),
            actor: "system",
            action: "x",
            subjects: [],
            payload: {},
            previous: Buffer.alloc(32),
            hash: Buffer.alloc(32),
          },
        })
        .catch((thrown: unknown) => thrown);
      expect(failureOf(error, {}).error.code).toBe("storage-full");
      expect(await health()).toMatchObject({ status: 503, body: { status: "degraded", database: "full" } });
    });
    const { rows } = await database.pool.query("select 1 from inspection");
    expect(rows).toEqual([]);
    expect(await post(postInspections, inspection)).toMatchObject({ status: 200, body: { status: "recorded" } });
    vi.useFakeTimers({ toFake: ["Date"], now: Date.now() + 61_000 });
    expect(await health()).toMatchObject({ status: 200, body: { status: "ok" } });
  });

  it.each([
    [{ code: "53100" }, "storage-full"],
    [{ code: "ENOSPC" }, "storage-full"],
    [{ message: "could not write to file: No space left on device", code: "58030" }, "storage-full"],
    [{ code: "55P03" }, "unavailable"],
    [{ code: "P2028" }, "unavailable"],
    [{ code: "25006" }, "unavailable"],
    [{ code: "57P05" }, "unavailable"],
  ])("%j is told as %s", (shape, code) => {
    const written = vi.spyOn(process.stderr, "write").mockReturnValue(true);
    expect(failureOf(Object.assign(new Error("message" in shape ? shape.message : "x"), shape), {}).error.code).toBe(
      code,
    );
    written.mockRestore();
  });
});
