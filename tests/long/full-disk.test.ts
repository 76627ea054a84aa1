import { execFileSync } from "node:child_process";
import { chmodSync, mkdirSync, mkdtempSync, rmSync, statfsSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { setTimeout as sleep } from "node:timers/promises";
import { afterAll, beforeAll, expect, it } from "vitest";
import { GET as getHealth } from "@/app/api/v1/health/route";
import { POST as postInspections } from "@/app/api/v1/inspections/route";
import { closeConnections, getPool } from "@/lib/server/db/client";
import { type EmbeddedServer, startEmbedded } from "@/lib/server/db/embedded";
import { prepareDatabase } from "@/lib/server/db/prepare-database";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import { createToken } from "@/lib/server/tokens/commands";
import { createTestPlant, type TestPlant } from "../helpers/plant";
import { setTestEnvironment } from "../server/auth/plant-fixture";

// A disk that really is full: the data folder lies on a small file system in memory, which only root can mount.

const MEBIBYTE = 2 ** 20;
const DISK_MB = 400;
const ROOM_MB = 24;
const FRAMES = 6000;

/** The folder on its own small file system; null where this user may not mount one, which the figures say. */
function smallDisk(): string | null {
  const folder = mkdtempSync(join(tmpdir(), "shellgate-full-"));
  try {
    execFileSync("mount", ["-t", "tmpfs", "-o", `size=${DISK_MB}m,mode=0711`, "tmpfs", folder], { stdio: "pipe" });
    return folder;
  } catch {
    rmSync(folder, { recursive: true });
    return null;
  }
}

const disk = smallDisk();
let server: EmbeddedServer;
let hasEnded = false;
let plant: TestPlant;
let headers: Record<string, string>;

async function start(port?: number): Promise<void> {
  const data = join(disk ?? "", "plant");
  mkdirSync(data, { recursive: true });
  chmodSync(data, 0o711);
  server = await startEmbedded({ folder: data, ...(port === undefined ? {} : { port }) });
  hasEnded = false;
  void server.ended.then(() => (hasEnded = true));
}

beforeAll(async () => {
  if (disk === null) return;
  setTestEnvironment();
  await start();
  await closeConnections();
  process.env.DATABASE_URL = server.appUrl();
  await prepareDatabase({ ownerUrl: server.url(), appUrl: server.appUrl() });
  plant = await createTestPlant({ frames: FRAMES });
  const { token } = await createToken(plant.system, { name: "rig", scopes: ["readings:write"] });
  headers = { authorization: `Bearer ${token}`, "content-type": "application/json" };
});
afterAll(async () => {
  if (disk === null) return;
  await closeConnections();
  await server.stop();
  execFileSync("umount", [disk]);
  rmSync(disk, { recursive: true });
});

const send = async (from: number, count: number) => {
  const inspections = Array.from({ length: count }, (_, index) =>
    plant.inspection(`T-${String(from + index).padStart(4, "0")}`),
  );
  const request = new Request("http://localhost:3000/x", {
    method: "POST",
    headers,
    body: JSON.stringify({ inspections }),
  });
  const answer = await postInspections(request, { params: Promise.resolve({}) });
  const body = (await answer.json()) as { detail?: string; results?: { id: string; status: string }[] };
  return { status: answer.status, body, ids: inspections.map(({ id }) => id) };
};
const health = async () => {
  const answer = await getHealth(new Request("http://localhost:3000/x"), { params: Promise.resolve({}) });
  return (await answer.json()) as { status: string; database: string };
};

it.skipIf(disk === null)(
  "answers in words while the disk is full, goes on when there is room, and loses nothing",
  async () => {
    const { bavail, bsize } = statfsSync(disk ?? "");
    const ballast = join(disk ?? "", "ballast");
    writeFileSync(ballast, Buffer.alloc(Math.max(0, bavail * bsize - ROOM_MB * MEBIBYTE)));
    const acknowledged: string[] = [];
    const refused: { readonly status: number; readonly detail: string }[] = [];
    let next = 1;
    while (refused.length < 5 && next + 100 <= FRAMES) {
      const { status, body } = await send(next, 100);
      const recorded = (body.results ?? []).filter((one) => one.status === "recorded").map(({ id }) => id);
      acknowledged.push(...recorded);
      if (status === 200 && recorded.length === 100) next += 100;
      else refused.push({ status, detail: body.detail ?? JSON.stringify(body).slice(0, 300) });
    }
    const whileFull = await health();
    const database = hasEnded ? "had ended" : "went on";
    rmSync(ballast);
    // As the start command does with a database that has ended.
    if (hasEnded) await start(server.port);
    let again = await send(FRAMES - 99, 50);
    for (let tries = 0; again.status !== 200 && tries < 30; tries += 1) {
      await sleep(1_000);
      if (hasEnded) await start(server.port);
      again = await send(FRAMES - 99, 50);
    }
    console.info(
      `full disk: ${acknowledged.length} inspections acknowledged, then ${refused.map(({ status }) => status).join(", ")} ` +
        `(${refused[0]?.detail ?? "nothing was refused"}); health ${whileFull.status}, ${whileFull.database}; the database ${database}`,
    );
    expect(refused.length).toBe(5);
    for (const { status, detail } of refused) {
      expect([503, 507]).toContain(status);
      expect(detail).toMatch(/nothing|lost|kept|again/i);
    }
    // Without a worker it is degraded anyhow: the database is what this is about.
    expect(["full", "away"]).toContain(whileFull.database);
    expect(again.status).toBe(200);
    const { rows } = await getPool().query<{ id: string }>("select id::text as id from inspection");
    const stored = new Set(rows.map(({ id }) => id));
    expect(acknowledged.filter((id) => !stored.has(id))).toEqual([]);
    expect((await verifyJournal(plant.plantId)).faults).toEqual([]);
  },
);

it.runIf(disk === null)("was not run: mounting a small file system needs root", () => {
  console.info("full disk: NOT RUN, mounting a small file system needs root");
});
