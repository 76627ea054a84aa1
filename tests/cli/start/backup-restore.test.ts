import { spawn } from "node:child_process";
import {
  chmodSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  writeFileSync,
} from "node:fs";
import os from "node:os";
import path from "node:path";
import pg from "pg";
import { afterAll, expect, test } from "vitest";
import { ensureAuthSecret, prepareDataFolder } from "@/lib/cli/data-folder";
import { closeConnections } from "@/lib/server/db/client";
import { startEmbedded } from "@/lib/server/db/embedded";
import { prepareDatabase } from "@/lib/server/db/prepare-database";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { anchorJournal } from "@/lib/server/journal/anchor-journal";
import { beginVouching } from "@/lib/server/journal/begin-vouching";
import { createTestPlant } from "@/tests/helpers/plant";

const ROOT = path.resolve(import.meta.dirname, "../../..");
const base = mkdtempSync(path.join(os.tmpdir(), "shellgate keep "));
chmodSync(base, 0o755);
const data = path.join(base, "plant");
afterAll(async () => {
  await closeConnections();
  rmSync(base, { recursive: true, force: true });
});

/** `told`: what a program reads; `output` has what a person sees, too. */
type Ended = { readonly code: number | null; readonly output: string; readonly told: string };

/** Runs a command as npm does. @param mostKb - size of the largest file that it may write */
function run(command: "backup" | "restore" | "doctor", args: readonly string[], mostKb?: number): Promise<Ended> {
  const env: NodeJS.ProcessEnv = { ...process.env, SHELLGATE_BACKUP_PASSPHRASE: "correct horse battery staple" };
  for (const name of [
    "DATABASE_URL",
    "DATABASE_OWNER_URL",
    "SHELLGATE_DATA",
    "AUTH_SECRET",
    "INIT_CWD",
    "SHELLGATE_BACKUPS",
  ])
    delete env[name];
  const limit = mostKb === undefined ? "" : `ulimit -f ${mostKb * 2}; `;
  const words = [
    process.execPath,
    path.join(ROOT, "lib/cli/run.mjs"),
    `lib/cli/${command}.ts`,
    ...args,
    "--data",
    data,
  ];
  const child = spawn("/bin/sh", ["-c", `${limit}exec "$@"`, "sh", ...words], {
    env,
    cwd: ROOT,
    stdio: ["ignore", "pipe", "pipe"],
  });
  let [output, told] = ["", ""];
  for (const stream of [child.stdout, child.stderr]) stream.on("data", (chunk: Buffer) => (output += chunk.toString()));
  child.stdout.on("data", (chunk: Buffer) => (told += chunk.toString()));
  return new Promise((resolve) => child.once("close", (code) => resolve({ code, output, told })));
}

async function inspectionsOf(url: string): Promise<readonly string[]> {
  const client = new pg.Client({ connectionString: url });
  await client.connect();
  const { rows } = await client.query<{ row: string }>("select t::text as row from inspection t order by 1");
  await client.end();
  return rows.map(({ row }) => row);
}

test("a plant is backed up while it runs, its folder destroyed, restored, proven, and goes on", async () => {
  prepareDataFolder(data, 1);
  const secret = ensureAuthSecret(data);
  const server = await startEmbedded({ folder: data, forTests: true });
  process.env.DATABASE_URL = server.appUrl();
  await prepareDatabase({ ownerUrl: server.url(), appUrl: server.appUrl() });
  const plant = await createTestPlant({ frames: 40 });
  const serials = Array.from({ length: 40 }, (_, index) => `T-${String(index + 1).padStart(4, "0")}`);
  await recordInspections(
    plant.system,
    serials.map((serial) => plant.inspection(serial)),
  );
  await beginVouching(plant.plantId);
  const anchor = await anchorJournal(plant.plantId);
  const before = await inspectionsOf(server.url());
  await closeConnections();

  // A disk that takes 16 kB: in the middle of the first table.
  const full = await run("backup", [path.join(base, "full.backup")], 16);
  expect(full.output).toMatch(
    /full\.backup could not be written: the disk takes no file of that size\. Nothing was left behind/,
  );
  expect(full.code).toBe(1);
  expect(readdirSync(base)).toEqual(["plant"]);

  const written = await run("backup", ["--encrypt"]);
  expect(written.output).toMatch(/Written: .*plant-backups\/shellgate-\d{8}T\d{6}Z\.backup/);
  expect(written.output).toContain(`newest anchor of the journal: ${anchor}`);
  expect(written.code).toBe(0);
  const folder = path.join(base, "plant-backups");
  const [name = ""] = readdirSync(folder);
  const file = path.join(folder, name);
  expect(statSync(file).mode & 0o777).toBe(0o600);

  const refused = await run("restore", [file]);
  expect(refused.output).toMatch(/plant is not empty .*Nothing was changed: a backup is restored into an empty place/);
  expect(refused.code).toBe(1);
  expect(await inspectionsOf(server.url())).toEqual(before);
  await server.stop();

  rmSync(data, { recursive: true });
  mkdirSync(data);
  const cut = path.join(base, "cut.backup");
  writeFileSync(cut, readFileSync(file).subarray(0, -20));
  const broken = await run("restore", [cut]);
  expect(broken.output).toMatch(/The backup is not whole or was altered: its end does not open\. Use another copy/);
  expect(broken.code).toBe(1);
  expect(readdirSync(base).sort()).toEqual(["cut.backup", "plant", "plant-backups"]);
  expect(readdirSync(data)).toEqual([]);

  const restored = await run("restore", [file]);
  expect(restored.output).toMatch(/inspection +40\n/);
  expect(restored.output).toMatch(/Test plant: \d+\sentries of the journal vouch for \d+\srows\n/);
  expect(restored.output).toContain(`newest anchor ${anchor}, as when it was written`);
  expect(restored.output).not.toContain("fault");
  expect(restored.code).toBe(0);
  expect(readdirSync(base).sort()).toEqual(["cut.backup", "plant", "plant-backups"]);
  expect(readFileSync(path.join(data, "auth-secret"), "utf8")).toBe(secret);
  expect(existsSync(path.join(data, "in-use.json"))).toBe(false);

  const seen = await run("doctor", ["--json"]);
  const findings = JSON.parse(seen.told) as { subject: string; state: string; says: string }[];
  expect(findings.filter(({ state }) => state === "wrong").map(({ says }) => says)).toEqual([
    "No Shellgate runs with this data folder.",
  ]);
  expect(findings.find(({ subject }) => subject === "Tables")?.state).toBe("good");
  expect(seen.code).toBe(2);

  const again = await startEmbedded({ folder: data, forTests: true });
  try {
    expect(await inspectionsOf(again.url())).toEqual(before);
  } finally {
    await again.stop();
  }
});
