import { chmodSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import os from "node:os";
import path from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { closeConnections, getPool } from "@/lib/server/db/client";
import { startEmbedded } from "@/lib/server/db/embedded";
import { prepareDatabase } from "@/lib/server/db/prepare-database";
import { readDatabaseRefusal } from "@/lib/server/db/prisma-errors";
import { sql } from "@/lib/server/db/sql";
import { inSqlTransaction } from "@/lib/server/db/transaction";
import { failureOf } from "@/lib/server/doors/failure";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import { createTestPlant } from "../../helpers/plant";

// A server of its own with the settings of a plant's, which this file kills.
let folder = "";
let server: Awaited<ReturnType<typeof startEmbedded>>;
const startServer = async (): Promise<void> => {
  server = await startEmbedded({ folder });
  await closeConnections();
  process.env.DATABASE_URL = server.appUrl("postgres");
};
beforeAll(async () => {
  folder = mkdtempSync(path.join(os.tmpdir(), "shellgate-lost-"));
  chmodSync(folder, 0o711);
  process.env.LOG_LEVEL = "error";
  await startServer();
  await prepareDatabase({ ownerUrl: server.url("postgres"), appUrl: server.appUrl("postgres") });
});
afterAll(async () => {
  await closeConnections();
  await server.stop();
  rmSync(folder, { recursive: true, force: true });
});

/** Kills the server as a cut cable would: no process of it ends in order. */
function killServer(): void {
  const pid = Number(readFileSync(path.join(folder, "postgres", "postmaster.pid"), "utf8").split("\n")[0]);
  process.kill(pid, "SIGKILL");
}

describe("a transaction whose connection is cut", () => {
  it("fails in words between two statements, and ends neither this process nor the pool", async () => {
    const cut = inSqlTransaction(async (db) => {
      const { rows } = await db.query<{ pid: number }>("select pg_backend_pid() as pid");
      await getPool().query("select pg_terminate_backend($1)", [rows[0]?.pid]);
      await new Promise((resolve) => setTimeout(resolve, 100));
      await db.query("select 1");
    });
    const error: unknown = await cut.catch((reason: unknown) => reason);
    expect(readDatabaseRefusal(error)?.kind).toBe("unreachable");
    expect(failureOf(error, {}).error).toMatchObject({ code: "unavailable" });
    expect(failureOf(error, {}).error.userMessage).toMatch(/Try again.*kept once/);
    expect((await getPool().query("select 1 as one")).rows).toEqual([{ one: 1 }]);
  });

  it("is told as unavailable while a statement waits, and when it takes too long", async () => {
    const cut = inSqlTransaction(async (db) => {
      const { rows } = await db.query<{ pid: number }>("select pg_backend_pid() as pid");
      setTimeout(() => void getPool().query("select pg_terminate_backend($1)", [rows[0]?.pid]), 50);
      await db.query("select pg_sleep(5)");
    });
    expect(readDatabaseRefusal(await cut.catch((reason: unknown) => reason))?.kind).toBe("unreachable");
    const slow = inSqlTransaction((db) => db.query("select pg_sleep(5)"), { timeoutMs: 50 });
    expect(readDatabaseRefusal(await slow.catch((reason: unknown) => reason))?.kind).toBe("unreachable");
  });
});

describe("a database server that is killed while inspections are recorded", () => {
  it("keeps each one whole or not at all, and takes what is sent again once", async () => {
    const plant = await createTestPlant({ frames: 60 });
    const all = Array.from({ length: 60 }, (_, index) =>
      plant.inspection(
        `T-${String(index + 1).padStart(4, "0")}`,
        index % 9 === 4 ? { "ds.bore.2@12-6": 40.9 } : undefined,
      ),
    );
    for (const wait of [15, 60, 140]) {
      const sending = Promise.allSettled(
        Array.from({ length: 12 }, (_, part) => recordInspections(plant.system, all.slice(part * 5, part * 5 + 5))),
      );
      await new Promise((resolve) => setTimeout(resolve, wait));
      killServer();
      for (const result of await sending)
        if (result.status === "rejected") expect(failureOf(result.reason, {}).error.code).toBe("unavailable");
      await startServer();
      const { rows } = await getPool().query(sql`
        select (select count(*)::int from inspection where plant_id = ${plant.plantId}) as inspections,
          (select count(*)::int from frame where plant_id = ${plant.plantId} and inspections = 1) as frames,
          (select count(*)::int from frame where plant_id = ${plant.plantId} and inspections > 1) as twice,
          (select count(*)::int from frame where plant_id = ${plant.plantId} and state = 'held') > 0 as held,
          (select held_at is not null from batch where plant_id = ${plant.plantId}) as "batchHeld",
          coalesce((select max(points) from stream where plant_id = ${plant.plantId}), 0) as points`);
      const { inspections, frames, twice, held, batchHeld, points } = rows[0];
      expect([frames, twice, points]).toEqual([inspections, 0, inspections]);
      expect(batchHeld).toBe(held);
      expect((await verifyJournal(plant.plantId)).faults).toEqual([]);
    }
    const outcomes = await recordInspections(plant.system, all);
    expect(outcomes.filter((one) => one.status === "refused")).toEqual([]);
    const { rows } = await getPool().query(sql`
      select count(*)::int as n from inspection where plant_id = ${plant.plantId}`);
    expect(rows[0].n).toBe(60);
    expect((await verifyJournal(plant.plantId)).faults).toEqual([]);
  });
});
