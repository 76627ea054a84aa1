import { existsSync, mkdirSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import os from "node:os";
import path from "node:path";
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it, vi } from "vitest";
import { backupDueJob, backupJob } from "@/lib/server/backup/jobs";
import { askBackup, changeBackupSetting } from "@/lib/server/backup/commands";
import { getBackups } from "@/lib/server/backup/queries";
import { readBackup } from "@/lib/server/backup/read-backup";
import { runDueJobs } from "@/lib/server/jobs/run-job";
import { enqueueRecurring } from "@/lib/server/jobs/queue";
import { findEvents } from "@/lib/server/messages/find-events";
import { listMessages } from "@/lib/server/messages/inbox";
import { tellEvents } from "@/lib/server/messages/tell-events";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, type TestPlant } from "../../helpers/plant";
import { setTestEnvironment } from "../auth/plant-fixture";

const base = mkdtempSync(path.join(os.tmpdir(), "shellgate-schedule-"));
const backups = path.join(base, "backups");
const PASSPHRASE = "correct horse battery staple";
const HOUR_MS = 3_600_000;

let database: TestDatabase;
let plant: TestPlant;

beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
  mkdirSync(path.join(base, "plant"));
  writeFileSync(path.join(base, "plant/auth-secret"), "s".repeat(43));
});
beforeEach(async () => {
  vi.stubEnv("SHELLGATE_DATA", path.join(base, "plant"));
  vi.stubEnv("SHELLGATE_BACKUPS", backups);
  plant = await createTestPlant({ frames: 1, plan: "routine" });
});
afterEach(() => vi.unstubAllEnvs());
afterAll(async () => {
  await database.drop();
  rmSync(base, { recursive: true, force: true });
});

/** Every plant of the database but this one is out of the way: written last night. */
async function due(): Promise<void> {
  await database.owner.query("delete from jobs.job where name in ('backup.due', 'backup.write')");
  await enqueueRecurring(database.pool, [backupDueJob]);
  await runDueJobs([backupDueJob]);
}
const runsOf = async () => (await getBackups(plant.system)).runs;
const ageRuns = (by: string) =>
  database.owner.query("update backup_run set asked_at = asked_at + $2::interval where plant_id = $1", [
    plant.plantId,
    by,
  ]);
const makeOld = (days: number) =>
  database.owner.query("update plant set created_at = now() - make_interval(days => $2) where id = $1", [
    plant.plantId,
    days,
  ]);

describe("a backup that somebody asks for", () => {
  it("is written by the worker, kept in the list, and whole", async () => {
    const administrator = await plant.as("administrator");
    await expect(askBackup(await plant.as("engineer"))).rejects.toThrow(/write backups/);
    await askBackup(administrator);
    await expect(askBackup(administrator)).rejects.toThrow(/A backup is on its way already/);
    expect(await runsOf()).toMatchObject([{ number: 1, askedBy: "Test administrator", endedAt: null }]);
    vi.stubEnv("SHELLGATE_BACKUP_PASSPHRASE", PASSPHRASE);
    await runDueJobs([backupJob]);
    const [run] = await runsOf();
    expect(run).toMatchObject({
      failure: null,
      encrypted: true,
      endedAt: expect.any(String),
      sha256: expect.any(String),
    });
    expect(path.dirname(run?.file ?? "")).toBe(backups);
    const names: string[] = [];
    const { about } = await readBackup(run?.file ?? "", () => Promise.resolve(PASSPHRASE), {
      begin: async () => {},
      take: async ({ name }) => void names.push(name),
    });
    expect(names).toContain("files/auth-secret");
    expect(about.plants).toContainEqual({ id: plant.plantId, name: "Test plant" });
    await askBackup(administrator);
    expect((await runsOf()).map(({ number }) => number)).toEqual([2, 1]);
  });

  it("can be asked for again where its job was given up", async () => {
    await askBackup(plant.system);
    await database.owner.query("delete from jobs.job where name = 'backup.write'");
    await askBackup(plant.system);
    expect(await runsOf()).toMatchObject([
      { number: 2, failure: null },
      { number: 1, failure: "It was given up." },
    ]);
  });
});

describe("the schedule", () => {
  it("writes one a day once the plant is older than its moment, and catches up after the plant was switched off", async () => {
    await due();
    expect(await runsOf()).toEqual([]);
    await makeOld(3);
    await due();
    await runDueJobs([backupJob]);
    expect(await runsOf()).toMatchObject([{ number: 1, askedBy: null, failure: null }]);
    await due();
    expect(await runsOf()).toHaveLength(1);
    await ageRuns("-1 day");
    await due();
    expect(await runsOf()).toHaveLength(2);
  });

  it("goes on where the clock was set back, and writes nothing where it is off", async () => {
    await makeOld(3);
    await due();
    await runDueJobs([backupJob]);
    await ageRuns("5 years");
    await due();
    expect((await runsOf()).map(({ number }) => number)).toEqual([2, 1]);
    await runDueJobs([backupJob]);
    await ageRuns("-2 days");
    const setting = { at: "02:30", keepNewest: "3", keepWeeks: "0", keepMonths: "0", keys: "without" } as const;
    await expect(changeBackupSetting(plant.system, { ...setting, enabled: "off", at: "26:00" })).rejects.toMatchObject({
      fields: [{ path: "at" }],
    });
    await changeBackupSetting(plant.system, { ...setting, enabled: "off" });
    await due();
    expect(await runsOf()).toHaveLength(2);
    expect((await getBackups(plant.system)).setting).toEqual({
      enabled: false,
      minute: 150,
      keepNewest: 3,
      keepWeeks: 0,
      keepMonths: 0,
      withKeys: false,
    });
  });

  it("removes what newer ones take the place of, from its own folder only", async () => {
    await changeBackupSetting(plant.system, {
      enabled: "on",
      at: "02:00",
      keepNewest: 2,
      keepWeeks: 0,
      keepMonths: 0,
      keys: "with",
    });
    const elsewhere = path.join(base, "elsewhere.backup");
    writeFileSync(elsewhere, "another place");
    for (let round = 0; round < 4; round += 1) {
      await askBackup(plant.system);
      if (round === 1)
        await database.owner.query("update backup_run set file = $2 where plant_id = $1 and number = 1", [
          plant.plantId,
          elsewhere,
        ]);
      await runDueJobs([backupJob]);
    }
    const runs = await runsOf();
    expect(runs.map(({ number, removedAt }) => [number, removedAt !== null])).toEqual([
      [4, false],
      [3, false],
      [2, true],
      [1, false],
    ]);
    expect(runs.map(({ file }) => existsSync(file ?? ""))).toEqual([true, true, false, true]);
    expect(readdirSync(backups).filter((name) => name.endsWith(".part"))).toEqual([]);
  });
});

describe("an administrator", () => {
  it("is told of one that could not be written, with the reason", async () => {
    const file = path.join(base, "a-file");
    writeFileSync(file, "");
    vi.stubEnv("SHELLGATE_BACKUPS", path.join(file, "below"));
    const written = vi.spyOn(process.stderr, "write").mockReturnValue(true);
    await askBackup(plant.system);
    for (let attempt = 0; attempt < 4; attempt += 1) await runDueJobs([backupJob], true);
    written.mockRestore();
    expect(await runsOf()).toMatchObject([{ failure: expect.stringMatching(/a file is in its path/), file: null }]);
    await tellEvents(plant.plantId);
    const { open } = await listMessages(await plant.as("administrator"));
    expect(open.filter(({ kind }) => kind.startsWith("backup"))).toMatchObject([
      {
        kind: "backup.failed",
        happened: expect.stringMatching(
          /Backup 1 was tried as often as it may be and could not be written: .*a file is in its path/,
        ),
        path: "/setup/backups",
      },
    ]);
  });

  it("is told where the newest is old, once a week, and not where the schedule is off", async () => {
    const kinds = async (hours: number) => {
      await findEvents(plant.plantId, new Date(Date.now() + hours * HOUR_MS));
      await tellEvents(plant.plantId);
      const { open } = await listMessages(await plant.as("administrator"));
      return open.filter(({ kind }) => kind === "backup.old").map(({ title, events }) => [title, events]);
    };
    expect(await kinds(49)).toEqual([]);
    expect(await kinds(51)).toEqual([["There is no backup", 1]]);
    expect(await kinds(52)).toEqual([["There is no backup", 1]]);
    await askBackup(plant.system);
    await runDueJobs([backupJob]);
    expect(await kinds(49)).toHaveLength(1);
    expect(await kinds(51)).toContainEqual(["The newest backup is old", 1]);
  });
});
