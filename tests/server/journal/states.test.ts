import { cpSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import path from "node:path";
import os from "node:os";
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { formatReadingName } from "@/lib/core/metrology/reading-name";
import { uuidV7 } from "@/lib/schemas/identifier";
import { migrate, MIGRATIONS_FOLDER } from "@/lib/server/db/migrate";
import { prepareDatabase } from "@/lib/server/db/prepare-database";
import { inSqlTransaction } from "@/lib/server/db/transaction";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import type { Role } from "@/lib/schemas/people";
import { giveUpFrame, startFrame } from "@/lib/server/inspections/lease-frame";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { withdrawInspection } from "@/lib/server/inspections/withdraw-inspection";
import { anchorJournal } from "@/lib/server/journal/anchor-journal";
import { beginVouching } from "@/lib/server/journal/begin-vouching";
import { readRowHashes } from "@/lib/server/journal/row-hashes";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import { changeBadge, changeRoles, createPerson, deactivatePerson } from "@/lib/server/people/commands";
import { changeSettingRing } from "@/lib/server/gauges/change-gauges";
import { createBatch } from "@/lib/server/batches/commands";
import { draftDrawing, releaseDrawing } from "@/lib/server/drawings/commands";
import { createSettingRing } from "@/lib/server/gauges/change-gauges";
import { shipFrame } from "@/lib/server/shipments/ship-frame";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, type TestPlant } from "../../helpers/plant";

let database: TestDatabase;
let plant: TestPlant;
let personId: string;

const tamperIn = async (one: TestDatabase, plantId: string, statement: string): Promise<void> => {
  const client = await one.owner.connect();
  try {
    await client.query("set session_replication_role = replica");
    const { rowCount } = await client.query(statement.replaceAll("PLANT", `'${plantId}'`));
    expect(rowCount).toBeGreaterThan(0);
    await client.query("set session_replication_role = origin");
  } finally {
    client.release();
  }
};
/** A person whom the journal knows, as a command makes one. */
async function somebody(role: Role): Promise<PersonViewer> {
  const { plantId } = plant;
  const name = `Test ${role}`;
  const made = await createPerson(plant.system, { name, roles: [role] });
  return { kind: "person", plantId, plantZone: "UTC", personId: made.personId, name, roles: [role] };
}

/** Changes rows as somebody with the owner's password could. */
const tamper = (statement: string) => tamperIn(database, plant.plantId, statement);
const faults = async () =>
  (await verifyJournal(plant.plantId)).faults.map((one) => `${one.chain} ${one.sequence} ${one.what}`);

describe("rows that change", () => {
  beforeAll(async () => {
    database = await createTestDatabase();
  });
  afterAll(async () => database.drop());
  beforeEach(async () => {
    plant = await createTestPlant({ frames: 3 });
    ({ personId } = await createPerson(plant.system, { name: "Ada Brook", roles: ["inspector"], badgeCode: "D1" }));
    await createSettingRing(plant.system, { key: "RG-41", certifiedSizeMm: 40.975, uncertaintyUm: 0.75 });
    for (const serial of ["T-0001", "T-0002"]) await recordInspections(plant.system, [plant.inspection(serial)]);
    await recordInspections(plant.system, [plant.inspection("T-0003", { [firstBore()]: 41.2 })]);
    await beginVouching(plant.plantId);
  });
  const firstBore = (): string => plant.names.map(formatReadingName).find((name) => name.includes("bore")) ?? "";

  it("are vouched for through all that is done with them", async () => {
    expect(await faults()).toEqual([]);
    const [engineer, dock] = [await somebody("engineer"), await somebody("dock")];
    await startFrame(plant.system, { serial: "T-0002", deviceId: "tablet-1" });
    await giveUpFrame(plant.system, { serial: "T-0002", deviceId: "tablet-1" });
    await shipFrame(dock, { id: uuidV7(), serial: "T-0001" });
    const again = { ...plant.inspection("T-0002"), reason: "looked odd" };
    await recordInspections(plant.system, [again]);
    await withdrawInspection(engineer, { id: again.id, reason: "another frame was on the stand" });
    await changeRoles(plant.system, { personId, roles: ["inspector", "engineer", "administrator"] });
    await changeBadge(plant.system, { personId, badgeCode: "D7" });
    await changeSettingRing(plant.system, {
      key: "RG-41",
      certifiedSizeMm: 40.976,
      uncertaintyUm: 0.5,
      inUse: true,
      version: 0,
    });
    const { rows } = await database.pool.query("select content from drawing_revision where plant_id = $1", [
      plant.plantId,
    ]);
    const { id } = await draftDrawing(plant.system, { drawing: { ...rows[0]?.content, revision: "Z" } });
    await releaseDrawing(plant.system, id);
    await createBatch(plant.system, {
      key: "B2",
      supplier: "SUP",
      model: "M1",
      line: "L1",
      plan: "P1",
      serials: Array.from({ length: 1200 }, (_, index) => ({ serial: `U-${index}` })),
    });
    const { faults: found, rows: vouched } = await verifyJournal(plant.plantId);
    expect(found).toEqual([]);
    expect(vouched).toBeGreaterThan(1200);
  });

  it("are vouched for by many who write at once, whatever the chains", async () => {
    const dock = await somebody("dock");
    const readings = (serial: string) => ({ ...plant.inspection(serial), reason: "once more" });
    await Promise.allSettled(
      Array.from({ length: 40 }, (_, index) => {
        const serial = `T-000${(index % 3) + 1}`;
        return index % 4 === 0
          ? shipFrame(dock, { id: uuidV7(), serial })
          : recordInspections(plant.system, [readings(serial)]);
      }),
    );
    expect(await faults()).toEqual([]);
  });

  it.each([
    [
      "frame",
      "state = 'released'",
      "serial = 'T-0002'",
      /^line:L1 \d+ frame \S+ was altered since "inspections.recorded"/,
    ],
    ["frame", "serial = 'T-0009'", "serial = 'T-0002'", /frame \S+ was altered/],
    ["gauge", "range_upper = 500", "key = 'TB-1'", /gauge \S+ was altered since/],
    ["gauge", "repeatability_um = 9", "key = 'TI-1'", /gauge \S+ was altered/],
    ["gauge", "ring_id = gen_random_uuid()", "key = 'TB-1'", /gauge \S+ was altered/],
    ["gauge", "active = false", "key = 'TB-1'", /gauge \S+ was altered/],
    ["frame", "verdict = 'not proven'", "serial = 'T-0002'", /frame \S+ was altered/],
    ["frame", "judgement = '[{}]'", "serial = 'T-0001'", /frame \S+ was altered/],
    ["frame", "mould = 'M-7'", "serial = 'T-0001'", /frame \S+ was altered/],
    ["frame", "position = 99", "serial = 'T-0001'", /frame \S+ was altered/],
    ["frame", "inspections = 0", "serial = 'T-0001'", /frame \S+ was altered/],
    ["frame", "concession_until = now() + interval '1 year'", "serial = 'T-0003'", /frame \S+ was altered/],
    ["frame", "evidence_from = now()", "serial = 'T-0003'", /frame \S+ was altered/],
    ["batch", "released_at = now(), held_at = null", "true", /batch \S+ was altered/],
    ["batch", "held_at = now() - interval '1 day'", "true", /batch \S+ was altered/],
    ["batch", "key = 'ANOTHER'", "true", /batch \S+ was altered/],
    ["batch", `policy = '{"x": 1}'`, "true", /batch \S+ was altered/],
    ["setting_ring", "certified_size_mm = 40.99", "true", /setting ring \S+ was altered/],
    ["setting_ring", "certified_size_mm = 'NaN'", "true", /setting ring \S+ was altered/],
    ["setting_ring", "active = false", "true", /setting ring \S+ was altered/],
    ["person", "name = 'Somebody Else'", "badge_code = 'D1'", /person or roles of person \S+ was altered/],
    ["person", "badge_code = 'D9'", "badge_code = 'D1'", /person or roles of person \S+ was altered/],
    ["person", "active = false", "badge_code = 'D1'", /person or roles of person \S+ was altered/],
    ["person_role", "role = 'administrator'", "true", /person or roles of person \S+ was altered/],
    ["drawing_revision", "state = 'superseded'", "true", /state of drawing revision \S+ was altered/],
    ["drawing_revision", "state = 'draft'", "true", /state of drawing revision \S+ was altered/],
    ["measuring_plan_revision", "state = 'superseded'", "true", /state of plan revision \S+ was altered/],
  ])("names a row of %s of which somebody sets %s", async (table, change, which, words) => {
    await tamper(`update ${table} set ${change} where plant_id = PLANT and ${which}`);
    const found = await faults();
    expect(found).toHaveLength(1);
    // What was there before vouching began is named by the entry that found it, the newer one.
    expect(found[0]).toMatch(new RegExp(words.source.replace("^line:L1 \\d+ ", "").replace(/ since .*/, "")));
  });

  it.each([
    ["delete from person_role where plant_id = PLANT", /person or roles of person \S+ was altered/],
    [
      "insert into person_role (plant_id, person_id, role) select plant_id, person_id, 'engineer' from person_role where plant_id = PLANT limit 1",
      /person or roles of person \S+ was altered/,
    ],
    ["delete from frame where plant_id = PLANT and serial = 'T-0003'", /frame \S+ was removed/],
    ["delete from batch where plant_id = PLANT", /batch \S+ was removed/],
    [
      "insert into person (plant_id, id, name) values (PLANT, gen_random_uuid(), 'Nobody')",
      /person or roles of person \S+ is in no entry/,
    ],
    [
      "insert into frame (plant_id, id, serial, batch_id, position) select plant_id, gen_random_uuid(), 'X-1', batch_id, 50 from frame where plant_id = PLANT limit 1",
      /frame \S+ is in no entry/,
    ],
    [
      "insert into setting_ring (plant_id, id, key, certified_size_mm, uncertainty_um) values (PLANT, gen_random_uuid(), 'R', 1, 1)",
      /setting ring \S+ is in no entry/,
    ],
  ])("names what is done past the journal: %s", async (statement, words) => {
    await tamper(statement);
    const found = await faults();
    expect(found).toHaveLength(1);
    expect(found[0]).toMatch(words);
  });

  it("names a frame that was put back to what an older entry left it as", async () => {
    const before = await database.owner.query(
      "select f::text as row from frame f where plant_id = $1 and serial = 'T-0001'",
      [plant.plantId],
    );
    await recordInspections(plant.system, [{ ...plant.inspection("T-0001"), reason: "looked odd" }]);
    await tamper("delete from frame where plant_id = PLANT and serial = 'T-0001'");
    await tamper(`insert into frame select (('${String(before.rows[0]?.row).replaceAll("'", "''")}')::frame).*`);
    expect(await faults()).toEqual([
      expect.stringMatching(/^line:L1 \d+ frame \S+ was altered since "inspections.recorded"/),
    ]);
  });

  it("says nothing of a lease, which is no evidence", async () => {
    await startFrame(plant.system, { serial: "T-0002", deviceId: "tablet-1" });
    expect(await faults()).toEqual([]);
  });

  it("vouches for a frame that is held and its batch in the entry that held them", async () => {
    const { rows } = await database.owner.query(
      "select distinct s ->> 'table' as t from journal_entry e cross join lateral jsonb_array_elements(subjects) s where plant_id = $1 and chain = 'line:L1' order by 1",
      [plant.plantId],
    );
    expect(rows.map((row) => row.t)).toEqual(expect.arrayContaining(["frame_state", "inspection"]));
  });

  it("says the name of who signed as it stood then", async () => {
    const { rows } = await database.owner.query(
      "select count(*)::int as n from journal_entry where plant_id = $1 and action like 'frames.%' and not payload ? 'signedBy'",
      [plant.plantId],
    );
    expect(rows).toEqual([{ n: 0 }]);
    await createPerson(plant.system, {
      name: "Second",
      roles: ["administrator"],
      account: { email: `${personId}@example.org`, password: "a long word for tests" },
    });
    await deactivatePerson(plant.system, { personId });
    expect(await faults()).toEqual([]);
  });

  describe("values that JSON cannot tell apart", () => {
    beforeAll(async () => {
      await database.owner.query("alter table inspection drop constraint inspection_readings_finite");
    });

    it.each([
      ["a missing reading that becomes NaN", "readings[1] = null", "readings[1] = 'NaN'", "passed over"],
      ["a missing reading that becomes infinite", "readings[1] = null", "readings[1] = 'Infinity'", "passed over"],
      ["NaN that becomes infinite", "readings[1] = 'NaN'", "readings[1] = '-Infinity'", "passed over"],
      ["0 that becomes -0", "readings[1] = 0", "readings[1] = '-0'", "passed over"],
      [
        "readings that begin at 0",
        "reason = reason",
        "readings = ('[0:' || cardinality(readings) - 1 || ']=' || readings::text)::float8[]",
        "passed over",
      ],
      ["readings within another array", "reason = reason", "readings = array[readings]", "told apart"],
      [
        "gauges that begin at 2",
        "gauges = array_fill(0::int2, array[cardinality(readings)])",
        "gauges = ('[2:' || cardinality(readings) + 1 || ']=' || gauges::text)::int2[]",
        "passed over",
      ],
    ])("%s", async (_, first, second, version1) => {
      const id = uuidV7();
      await recordInspections(plant.system, [{ ...plant.inspection("T-0001"), id, reason: "again" }]);
      const set = (what: string) => tamper(`update inspection set ${what} where plant_id = PLANT and id = '${id}'`);
      const read = (version: number) =>
        inSqlTransaction(async (db) => (await readRowHashes(db, plant.plantId, "inspection", [id], version)).get(id));
      await set(first);
      const before = [await read(1), await read(2)];
      await set(second);
      const after = [await read(1), await read(2)];
      expect(after[1]).not.toBe(before[1]);
      // What the first version of the spelling passed over: the reason for the second.
      expect(after[0] === before[0]).toBe(version1 === "passed over");
      expect(await faults()).toContainEqual(expect.stringMatching(/inspection \S+ was altered/));
    });
  });

  it("names an entry whose spelling somebody declares to be the older one", async () => {
    await tamper(
      "update journal_entry set canonical = 1 where plant_id = PLANT and chain = 'line:L1' and sequence = 2",
    );
    expect(await faults()).toEqual(["line:L1 2 was altered: its content does not give its hash"]);
  });
});

type Former = {
  readonly migrations: readonly string[];
  readonly plantId: string;
  readonly anchor: string;
  readonly tables: Readonly<Record<string, readonly string[]>>;
};

describe("a plant of the version before", () => {
  const former = JSON.parse(
    readFileSync(path.join(import.meta.dirname, "../../helpers/former-plant.json"), "utf8"),
  ) as Former;
  let old: TestDatabase;
  let folder = "";

  beforeEach(async () => {
    folder = mkdtempSync(path.join(os.tmpdir(), "shellgate-former-"));
    for (const name of former.migrations)
      cpSync(path.join(MIGRATIONS_FOLDER, name), path.join(folder, name), { recursive: true });
    old = await createTestDatabase(null);
    await migrate(old.url, folder);
    const client = await old.owner.connect();
    await client.query("set session_replication_role = replica");
    try {
      for (const [table, rows] of Object.entries(former.tables))
        await client.query(`insert into ${table} select (r::public.${table}).* from unnest($1::text[]) as r`, [rows]);
    } finally {
      client.release(true);
    }
    await prepareDatabase({ ownerUrl: old.url, appUrl: old.appUrl });
  });
  afterEach(async () => {
    await old.drop();
    rmSync(folder, { recursive: true, force: true });
  });
  const found = async (options = {}) => (await verifyJournal(former.plantId, options)).faults.map((one) => one.what);

  it("verifies as it is after the migration, against the anchor that was kept outside", async () => {
    expect(await verifyJournal(former.plantId, { anchor: former.anchor })).toMatchObject({
      faults: [],
      head: former.anchor,
      entries: 20,
      rows: 10,
    });
  });

  it("is vouched for from the next start on, once, and goes on", async () => {
    await Promise.all([beginVouching(former.plantId), beginVouching(former.plantId)]);
    await beginVouching(former.plantId);
    const { rows } = await old.pool.query(
      "select payload -> 'tables' as tables from journal_entry where plant_id = $1 and action = 'journal.vouches-for' order by sequence",
      [former.plantId],
    );
    expect(rows).toHaveLength(2);
    expect(await found()).toEqual([]);
    const dock = { kind: "system", plantId: former.plantId, plantZone: "UTC", name: "test" } as const;
    await shipFrame(dock, { id: uuidV7(), serial: "T-0003" });
    await anchorJournal(former.plantId);
    expect(await found({ anchor: former.anchor })).toEqual([]);
    await tamperIn(
      old,
      former.plantId,
      "update frame set state = 'released' where plant_id = PLANT and serial = 'T-0002'",
    );
    expect(await found()).toEqual([expect.stringMatching(/^frame \S+ was altered since/)]);
  });

  it("shows what was altered in its old entries and rows as before", async () => {
    await tamperIn(
      old,
      former.plantId,
      "update inspection set readings[1] = 40.99 where plant_id = PLANT and ordinal = 1",
    );
    expect((await found()).every((one) => /inspection \S+ was altered/.test(one))).toBe(true);
    expect(await found()).toHaveLength(3);
    await tamperIn(
      old,
      former.plantId,
      "update journal_entry set canonical = 2 where plant_id = PLANT and chain = 'people'",
    );
    expect(await found()).toContainEqual("was altered: its content does not give its hash");
  });
});
