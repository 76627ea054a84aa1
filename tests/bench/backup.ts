import { spawn } from "node:child_process";
import { chmodSync, mkdtempSync, rmSync, statSync } from "node:fs";
import os from "node:os";
import path from "node:path";
import { setTimeout as sleep } from "node:timers/promises";
import pg from "pg";
import { loadBackup } from "@/lib/server/backup/load-backup";
import { writeBackup } from "@/lib/server/backup/write-backup";
import { closeConnections } from "@/lib/server/db/client";
import { startEmbedded } from "@/lib/server/db/embedded";
import { prepareDatabase } from "@/lib/server/db/prepare-database";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { beginVouching } from "@/lib/server/journal/begin-vouching";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import { createTestPlant, type TestPlant } from "../helpers/plant";
import type { BenchLine } from "./run";

// How long a backup and its restore take, and what recording loses meanwhile. Inspections of the full plan are recorded by the command and
// then repeated by SQL in a copy of the database, which no journal vouches for: it is for the size only. A million is told in proportion.

const RECORDED = 200;
/** Inspections of the large copy; npm run bench backup, with SHELLGATE_BENCH_INSPECTIONS for another size. */
const USUAL = 40_000;
const ROUNDS = 4;
const ROUND = 40;
const MILLION = 1e6;

const serialOf = (place: number): string => `T-${String(place + 1).padStart(4, "0")}`;
const secondsOf = async (work: () => Promise<unknown>): Promise<number> => {
  const from = performance.now();
  await work();
  return (performance.now() - from) / 1000;
};

async function withOwner<T>(url: string, work: (client: pg.Client) => Promise<T>): Promise<T> {
  const client = new pg.Client({ connectionString: url });
  await client.connect();
  try {
    return await work(client);
  } finally {
    await client.end();
  }
}

/** Frames, inspections and journal entries again and again, under keys of their own. */
async function enlarge(client: pg.Client, times: number): Promise<void> {
  await client.query("set session_replication_role = replica");
  for (const [table, own] of [
    ["frame", "id = md5(t.id::text || g)::uuid, serial = t.serial || '-' || g"],
    ["inspection", "id = md5(t.id::text || g)::uuid, frame_id = md5(t.frame_id::text || g)::uuid"],
    ["journal_entry", "chain = t.chain || '-' || g"],
  ] as const) {
    const changed = new Map(own.split(", ").map((pair) => pair.split(" = ") as [string, string]));
    const { rows } = await client.query<{ name: string }>(
      "select attname as name from pg_attribute where attrelid = $1::regclass and attnum > 0 and not attisdropped and attgenerated = '' order by attnum",
      [table],
    );
    const columns = rows.map(({ name }) => name);
    const values = columns.map((name) => changed.get(name) ?? `t."${name}"`);
    await client.query(
      `insert into ${table} (${columns.map((name) => `"${name}"`).join()}) select ${values.join()} from ${table} t cross join generate_series(1, ${times - 1}) g`,
    );
  }
  await client.query("set session_replication_role = origin");
}

/** Seconds of one round of single recordings. */
async function record(plant: TestPlant, from: number): Promise<number> {
  return secondsOf(async () => {
    for (let place = from; place < from + ROUND; place += 1)
      await recordInspections(plant.system, [plant.inspection(serialOf(place))]);
  });
}

/** What recording loses while backups are written, by rounds that take turns. */
async function slowdown(plant: TestPlant, bigUrl: string, file: string): Promise<number> {
  const [alone, beside]: [number[], number[]] = [[], []];
  let next = RECORDED;
  const root = path.resolve(import.meta.dirname, "../..");
  for (let round = 0; round < ROUNDS; round += 1) {
    alone.push(await record(plant, next));
    const args = [path.join(root, "lib/cli/run.mjs"), "tests/helpers/backup-again.ts", bigUrl, file];
    const child = spawn(process.execPath, args, { cwd: root, stdio: ["ignore", "pipe", "inherit"] });
    // Past its start: from the first part on.
    await sleep(5_000);
    beside.push(await record(plant, next + ROUND));
    child.kill("SIGKILL");
    await new Promise((resolve) => child.once("close", resolve));
    next += 2 * ROUND;
  }
  const middle = (values: readonly number[]): number =>
    values.toSorted((a, b) => a - b)[Math.floor(values.length / 2)] ?? 0;
  return middle(beside) / middle(alone);
}

export async function bench(): Promise<BenchLine[]> {
  const size = Number(process.env.SHELLGATE_BENCH_INSPECTIONS ?? USUAL);
  const folder = mkdtempSync(path.join(os.tmpdir(), "shellgate-bench-backup-"));
  chmodSync(folder, 0o711);
  const server = await startEmbedded({ folder });
  const file = path.join(folder, "bench.backup");
  Object.assign(process.env, { DATABASE_URL: server.appUrl(), LOG_LEVEL: "error", AUTH_SECRET: "x".repeat(40) });
  try {
    await prepareDatabase({ ownerUrl: server.url(), appUrl: server.appUrl() });
    const plant = await createTestPlant({ frames: RECORDED + 2 * ROUNDS * ROUND });
    for (let from = 0; from < RECORDED; from += 100)
      await recordInspections(
        plant.system,
        Array.from({ length: 100 }, (_, at) => plant.inspection(serialOf(from + at))),
      );
    await beginVouching(plant.plantId);
    const verified = await secondsOf(() => verifyJournal(plant.plantId));
    await closeConnections();
    const onServer = (statement: string) => withOwner(server.url("postgres"), (client) => client.query(statement));
    await onServer("create database big template shellgate");
    await onServer("create database again");
    await withOwner(server.url("big"), (client) => enlarge(client, size / RECORDED));
    const bare = await withOwner(server.url("big"), (client) =>
      secondsOf(async () => {
        for (const table of ["frame", "inspection", "journal_entry"])
          await client.query(`copy ${table} to '/dev/null'`);
      }),
    );
    const wish = { url: server.url("big"), folder: null, file, withKeys: false, passphrase: null } as const;
    const written = await secondsOf(() => writeBackup(wish));
    const none = (): Promise<null> => Promise.resolve(null);
    const loaded = await secondsOf(() => loadBackup(server.url("again"), file, none, () => undefined));
    const bytes = statSync(file).size;
    rmSync(file);
    const lost = await slowdown(plant, server.url("big"), file);
    const million = MILLION / size;
    return [
      { name: `backup of a million, in proportion of ${size} inspections, s`, value: written * million, goal: 120 },
      { name: "the same, as many times a bare COPY of the three largest tables", value: written / bare, goal: null },
      { name: "restore of a million without the journal's proof, likewise, s", value: loaded * million, goal: 240 },
      { name: "proof of the journal of 200 inspections, s", value: verified, goal: null },
      { name: "bytes of the file for an inspection with its frame and entry", value: bytes / size, goal: null },
      { name: "single recordings beside backups without a pause, as many times alone", value: lost, goal: 1.25 },
    ];
  } finally {
    await closeConnections();
    await server.stop();
    rmSync(folder, { recursive: true, force: true });
  }
}
