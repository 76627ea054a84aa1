import { chmodSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import net from "node:net";
import os from "node:os";
import path from "node:path";
import { afterAll, afterEach, beforeAll, expect, it, vi } from "vitest";
import { makeAuthority, makeServerCertificate } from "@/lib/cli/certificate";
import { backupJob } from "@/lib/server/backup/jobs";
import { askBackup } from "@/lib/server/backup/commands";
import { closeConnections } from "@/lib/server/db/client";
import { migrationNames } from "@/lib/server/db/migrate";
import { examineInstallation, getInstallation } from "@/lib/server/installation/examine";
import type { Finding } from "@/lib/server/installation/finding";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { runDueJobs } from "@/lib/server/jobs/run-job";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { livingWorker, type TestWorker } from "../../helpers/living-worker";
import { createTestPlant, type TestPlant } from "../../helpers/plant";
import { setTestEnvironment } from "../auth/plant-fixture";

const base = mkdtempSync(path.join(os.tmpdir(), "shellgate-doctor-"));
const folder = path.join(base, "plant");
const DAY_MS = 86_400_000;

let database: TestDatabase;
let plant: TestPlant;
let worker: TestWorker;
let listener: net.Server;
let address: string;

const examine = (more: Partial<Parameters<typeof examineInstallation>[0]> = {}) =>
  examineInstallation({ folder, address, certificateFile: "", migrations: migrationNames(), ...more });
const of = (findings: readonly Finding[], subject: string): Finding | undefined =>
  findings.find((one) => one.subject === subject);
const wrongOnes = (findings: readonly Finding[]) =>
  findings.filter(({ state }) => state === "wrong").map(({ subject }) => subject);

beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
  vi.stubEnv("SHELLGATE_DATA", folder);
  mkdirSync(path.join(folder, "tls"), { recursive: true });
  writeFileSync(path.join(folder, "auth-secret"), "s".repeat(43), { mode: 0o600 });
  plant = await createTestPlant({ frames: 1, plan: "routine" });
  await recordInspections(plant.system, [plant.inspection("T-0001")]);
  await askBackup(plant.system);
  await runDueJobs([backupJob]);
  worker = await livingWorker();
  listener = net.createServer((socket) => socket.destroy());
  await new Promise<void>((resolve) => listener.listen(0, "127.0.0.1", resolve));
  const at = listener.address();
  address = `http://localhost:${typeof at === "object" && at !== null ? at.port : 0}`;
});
afterEach(() => chmodSync(path.join(folder, "auth-secret"), 0o600));
afterAll(async () => {
  vi.unstubAllEnvs();
  listener.close();
  await worker.end();
  await database.drop();
  rmSync(base, { recursive: true, force: true });
});

it("says of each part that it is good, and of the test server what it gives up", async () => {
  const findings = await examine();
  expect(wrongOnes(findings)).toEqual(["Durability"]);
  expect(findings[0]?.says).toMatch(/fsync or full_page_writes switched off: a power cut may destroy the database/);
  const subjects = [
    "Versions",
    "Address",
    "Database",
    "Tables",
    "Clock",
    "Roles",
    "Jobs",
    "Backups",
    "Certificate",
    "Keys",
  ];
  for (const subject of subjects) expect(of(findings, subject), subject).toMatchObject({ state: "good", todo: null });
  expect(of(findings, "Disk")?.says).toMatch(/left on the disk of/);
  for (const { says, todo } of findings)
    for (const words of [says, todo ?? "Nothing."]) expect(words).toMatch(/^[A-Z0-9].*[.]$|^chmod/);
});

it("is the same on the page, for who may see it", async () => {
  vi.stubEnv("SHELLGATE_ORIGIN", address);
  expect((await getInstallation(await plant.as("auditor"))).map(({ subject }) => subject).sort()).toEqual(
    (await examine()).map(({ subject }) => subject).sort(),
  );
  await expect(getInstallation(await plant.as("engineer"))).rejects.toThrow(/look at backups and the installation/);
});

it("finds keys that others can read", async () => {
  chmodSync(path.join(folder, "auth-secret"), 0o644);
  expect(of(await examine(), "Keys")).toMatchObject({
    state: "wrong",
    says: expect.stringMatching(/can read auth-secret/),
  });
});

it("finds a certificate that ends, has ended, or is none", async () => {
  const now = new Date("2026-11-30T12:00:00Z");
  const authority = await makeAuthority("test", now);
  const { certificatePem } = await makeServerCertificate(authority, ["localhost"], now);
  const file = path.join(folder, "tls", "server.crt");
  writeFileSync(file, certificatePem);
  // Made for 397 days, the first of them the day before (lib/cli/certificate.ts).
  const at = (days: number) => examine({ now: () => new Date(now.getTime() + days * DAY_MS) });
  expect(of(await at(0), "Certificate")).toMatchObject({
    state: "good",
    says: "The certificate is good until 2027-12-31.",
  });
  expect(of(await at(390), "Certificate")).toMatchObject({ state: "remark" });
  expect(of(await at(397), "Certificate")).toMatchObject({
    state: "wrong",
    says: expect.stringMatching(/ended on 2027-12-31/),
  });
  writeFileSync(file, "no certificate");
  expect(of(await at(0), "Certificate")).toMatchObject({
    state: "wrong",
    says: expect.stringMatching(/cannot be read/),
  });
  rmSync(file);
});

it("finds a backup that is old or failed, and a clock that was set back", async () => {
  const at = (ms: number) => examine({ now: () => new Date(Date.now() + ms) });
  expect(of(await at(3 * DAY_MS), "Backups")).toMatchObject({
    state: "wrong",
    says: expect.stringMatching(/That is 3\sdays ago/),
  });
  const back = await at(-DAY_MS);
  expect(of(back, "Clock")).toMatchObject({
    state: "wrong",
    says: expect.stringMatching(/23\sh later: the clock was set back/),
  });
  expect(of(back, "Backups")?.says).toMatch(/later than now/);
  await askBackup(plant.system);
  await database.owner.query(
    "update backup_run set ended_at = now(), failure = 'The disk is full.' where ended_at is null",
  );
  expect(of(await examine(), "Backups")).toMatchObject({
    state: "wrong",
    says: expect.stringMatching(/The last try since failed: The disk is full\./),
  });
  await database.owner.query("delete from backup_run where failure is not null");
});

it("finds tables of another version, and looks no further at them", async () => {
  const { rows } = await database.owner.query(
    "delete from _prisma_migrations where migration_name = (select max(migration_name) from _prisma_migrations) returning *",
  );
  const older = await examine();
  expect(of(older, "Tables")).toMatchObject({
    state: "remark",
    says: expect.stringMatching(/of an older version; 1\smigration/),
  });
  expect(of(older, "Jobs")).toBeUndefined();
  const { id, checksum, migration_name: name } = rows[0] as Record<string, string>;
  const insert =
    "insert into _prisma_migrations (id, checksum, migration_name, finished_at) values ($1, $2, $3, now())";
  await database.owner.query(insert, [id, checksum, name]);
  await database.owner.query(insert, ["n", "n", "20990101000000_newer"]);
  expect(of(await examine(), "Tables")).toMatchObject({
    state: "wrong",
    says: expect.stringMatching(/newer than this Shellgate/),
  });
  await database.owner.query("delete from _prisma_migrations where id = 'n'");
});

it("finds that nothing answers, that nothing runs, and a database that is away", async () => {
  const probe = net.createServer();
  await new Promise<void>((resolve) => probe.listen(0, "127.0.0.1", resolve));
  const at = probe.address();
  const port = typeof at === "object" && at !== null ? at.port : 0;
  await new Promise((resolve) => probe.close(resolve));
  expect(of(await examine({ address: `https://plant.example:${port}` }), "Address")?.says).toMatch(
    `Nothing answers on port ${port}`,
  );
  expect(of(await examine({ address: null }), "Address")).toMatchObject({ state: "wrong" });
  await closeConnections();
  const before = process.env.DATABASE_URL;
  process.env.DATABASE_URL = `postgresql://nobody:x@127.0.0.1:${port}/none`;
  const away = await examine();
  await closeConnections();
  process.env.DATABASE_URL = before;
  expect(of(away, "Database")).toMatchObject({
    state: "wrong",
    says: "It could not be looked at: The database does not answer.",
  });
  expect(of(away, "Disk")).toBeDefined();
});

it("finds that no worker runs", async () => {
  await worker.end();
  expect(of(await examine(), "Jobs")).toMatchObject({ state: "wrong", says: expect.stringMatching(/^No worker runs/) });
  worker = await livingWorker();
});
