import { afterAll, beforeAll, expect, it } from "vitest";
import { checkJournalJob } from "@/lib/server/audit/check-job";
import { askJournalCheck, listJournalChecks } from "@/lib/server/audit/journal-checks";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { runDueJobs } from "@/lib/server/jobs/run-job";
import { anchorJournal } from "@/lib/server/journal/anchor-journal";
import { createSignIn } from "../auth/plant-fixture";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, type TestPlant } from "../../helpers/plant";

let database: TestDatabase;
let plant: TestPlant;
let auditor: PersonViewer;
beforeAll(async () => {
  database = await createTestDatabase();
  plant = await createTestPlant({ frames: 2 });
  auditor = await createSignIn(plant.system, "auditor@plant.example", "auditor");
  await recordInspections(plant.system, [plant.inspection("T-0001"), plant.inspection("T-0002")]);
  await anchorJournal(plant.plantId);
});
afterAll(() => database.drop());

const newest = async () => (await listJournalChecks(auditor))[0];

it("is asked for once at a time, done by the worker, and says what it found", async () => {
  expect(await newest()).toBeUndefined();
  const { id } = await askJournalCheck(auditor, {});
  await expect(askJournalCheck(auditor, {})).rejects.toMatchObject({ code: "conflict" });
  expect(await newest()).toMatchObject({ id, askedBy: auditor.name, endedAt: null, report: null });
  expect(await runDueJobs([checkJournalJob])).toBe(1);
  const { rows } = await database.pool.query<{ entries: number }>(
    "select count(*)::int as entries from journal_entry where plant_id = $1",
    [plant.plantId],
  );
  expect(await newest()).toMatchObject({ id, report: { entries: rows[0]?.entries, faults: [] }, failure: null });
  const { endedAt, checked, entries } = (await newest()) ?? {};
  expect(endedAt).not.toBeNull();
  expect(checked).toBe(entries);
});

it("holds it against an anchor that was kept outside", async () => {
  await askJournalCheck(auditor, { anchor: "AB".repeat(32) });
  await runDueJobs([checkJournalJob]);
  expect((await newest())?.report?.faults.map(({ what }) => what)).toEqual([expect.stringContaining("ab".repeat(32))]);
  await expect(askJournalCheck(auditor, { anchor: "not an anchor" })).rejects.toMatchObject({
    code: "invalid-input",
    fields: [{ path: "anchor" }],
  });
});

it("names what was altered behind it", async () => {
  await database.owner.query("alter table inspection disable trigger user");
  await database.owner.query("update inspection set verdict = 'not proven' where plant_id = $1 and ordinal = 1", [
    plant.plantId,
  ]);
  await database.owner.query("alter table inspection enable trigger user");
  await askJournalCheck(auditor, {});
  await runDueJobs([checkJournalJob]);
  const faults = (await newest())?.report?.faults ?? [];
  expect(faults.filter(({ what }) => what.includes("was altered")).length).toBeGreaterThan(0);
});
