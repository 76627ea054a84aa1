import { afterAll, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { uuidV7 } from "@/lib/schemas/identifier";
import { anchorJournal } from "@/lib/server/journal/anchor-journal";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import { beginVouching } from "@/lib/server/journal/begin-vouching";
import { addEvent } from "@/lib/server/events/commands";
import { addCalibration } from "@/lib/server/gauges/add-calibration";
import { createGauge } from "@/lib/server/gauges/change-gauges";
import { draftDrawing, releaseDrawing } from "@/lib/server/drawings/commands";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { shipFrame } from "@/lib/server/shipments/ship-frame";
import { keepPhoto } from "@/lib/server/attachments/commands";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, type TestPlant } from "../../helpers/plant";

/** The shortest file that is built as a JPEG is: start of image, start of frame, start of scan. */
const JPEG = Buffer.from("ffd8ffc00002ffda0002", "hex").toString("base64");
let database: TestDatabase;
let plant: TestPlant;
let anchor: string;
beforeAll(async () => {
  database = await createTestDatabase();
});
afterAll(async () => database.drop());
beforeEach(async () => {
  plant = await createTestPlant({ frames: 3 });
  for (const serial of ["T-0001", "T-0002", "T-0003"])
    await recordInspections(plant.system, [plant.inspection(serial)]);
  await shipFrame(await plant.as("dock"), { id: uuidV7(), serial: "T-0001" });
  anchor = await anchorJournal(plant.plantId);
});

/** Changes rows as somebody with the owner's password could. */
async function tamper(statement: string): Promise<void> {
  const client = await database.owner.connect();
  try {
    await client.query("set session_replication_role = replica");
    await client.query(statement.replaceAll("PLANT", `'${plant.plantId}'`));
    await client.query("set session_replication_role = origin");
  } finally {
    client.release();
  }
}
/** The gauges that every test plant has, and their calibrations. */
async function gaugesOfPlant(): Promise<number> {
  const { rows } = await database.owner.query(
    "select (count(distinct g.id) + count(c.id))::int as n from gauge g left join calibration c on c.plant_id = g.plant_id and c.gauge_id = g.id where g.plant_id = $1 and g.key <> 'BG-2'",
    [plant.plantId],
  );
  return rows[0]?.n ?? 0;
}
const faults = async (options = {}) =>
  (await verifyJournal(plant.plantId, options)).faults.map((one) => `${one.chain} ${one.sequence} ${one.what}`);

describe("verifyJournal", () => {
  it("finds nothing in a journal that nobody touched", async () => {
    const report = await verifyJournal(plant.plantId, { anchor });
    expect(report.faults).toEqual([]);
    expect(report.head).toBe(anchor);
    // Three inspections, a shipment, a released drawing and a released plan; the states of three frames, a batch, the drawing's
    // and the plan's revision: counted from the set-up above.
    expect(report.rows).toBe(12 + (await gaugesOfPlant()));
    expect(report.entries).toBeGreaterThanOrEqual(5);
  });

  it("refuses to change a row by ordinary means", async () => {
    await expect(
      database.owner.query("update inspection set verdict = 'conforms' where plant_id = $1", [plant.plantId]),
    ).rejects.toMatchObject({ message: expect.stringContaining("never change") });
  });

  it("names an inspection whose reading was altered", async () => {
    await tamper(
      "update inspection set readings[1] = 40.99 where plant_id = PLANT and id = (select min(id::text)::uuid from inspection where plant_id = PLANT)",
    );
    const found = await faults();
    expect(found).toHaveLength(1);
    expect(found[0]).toMatch(/^line:L1 1 inspection .* was altered/);
  });

  it("names an inspection that was removed", async () => {
    await tamper(
      "delete from inspection where plant_id = PLANT and id = (select max(id::text)::uuid from inspection where plant_id = PLANT)",
    );
    expect((await faults())[0]).toMatch(/^line:L1 3 inspection .* was removed/);
  });

  it("names an entry that was altered", async () => {
    await tamper(
      "update journal_entry set actor = 'person:somebody' where plant_id = PLANT and chain = 'line:L1' and sequence = 2",
    );
    expect(await faults()).toEqual(["line:L1 2 was altered: its content does not give its hash"]);
  });

  it("names the gap where an entry was removed", async () => {
    await tamper("delete from journal_entry where plant_id = PLANT and chain = 'line:L1' and sequence = 2");
    expect((await faults()).some((one) => one.startsWith("line:L1 3 entries 2 to 2 are missing"))).toBe(true);
  });

  it("names entries that changed places", async () => {
    await tamper(
      "update journal_entry set sequence = case sequence when 1 then -2 when 2 then -1 end where plant_id = PLANT and chain = 'line:L1' and sequence in (1, 2)",
    );
    await tamper(
      "update journal_entry set sequence = -sequence where plant_id = PLANT and chain = 'line:L1' and sequence < 0",
    );
    const found = await faults();
    expect(found.some((one) => one.startsWith("line:L1 1 "))).toBe(true);
    expect(found.some((one) => one.startsWith("line:L1 2 "))).toBe(true);
  });

  it("sees a tail that was cut together with its head by the anchor inside", async () => {
    await tamper(
      "delete from inspection where plant_id = PLANT and id = (select max(id::text)::uuid from inspection where plant_id = PLANT)",
    );
    await tamper("delete from journal_entry where plant_id = PLANT and chain = 'line:L1' and sequence = 3");
    await tamper(
      "update journal_chain c set length = 2, head = (select hash from journal_entry e where e.plant_id = c.plant_id and e.chain = c.chain and e.sequence = 2) where plant_id = PLANT and chain = 'line:L1'",
    );
    expect((await faults()).some((one) => one.includes("the tail was cut"))).toBe(true);
  });

  it("sees a journal cut back with its anchors only by an anchor kept outside", async () => {
    await tamper("delete from shipment where plant_id = PLANT");
    await tamper("update frame set state = 'measured', shipped_at = null where plant_id = PLANT and state = 'shipped'");
    await tamper("delete from journal_entry where plant_id = PLANT and chain in ('gate', 'anchor')");
    await tamper("delete from journal_chain where plant_id = PLANT and chain in ('gate', 'anchor')");
    expect(await faults()).toEqual([]);
    expect((await faults({ anchor }))[0]).toMatch(/kept outside is not in the journal/);
  });

  it("names a row that was written past the journal", async () => {
    await tamper(
      "insert into inspection select (jsonb_populate_record(i, jsonb_build_object('id', gen_random_uuid()))).* from inspection i where plant_id = PLANT limit 1",
    );
    expect((await faults())[0]).toMatch(/is in no entry/);
  });

  it("names a photo whose bytes were changed, with and without their hash", async () => {
    const photo = { id: uuidV7(), inspectionId: plant.inspection("T-0002").id, jpeg: JPEG };
    await recordInspections(plant.system, [{ ...plant.inspection("T-0002"), id: photo.inspectionId, reason: "again" }]);
    await keepPhoto(plant.system, photo);
    expect(await faults()).toEqual([]);
    await tamper("update attachment set bytes = '\\x00' where plant_id = PLANT");
    expect(await faults()).toEqual([
      `- null attachment ${photo.id} (T-0002.jpg) was altered: its bytes are not those of its hash`,
    ]);
    await tamper("update attachment set content_hash = sha256(bytes) where plant_id = PLANT");
    expect((await faults())[0]).toMatch(/^line:L1 5 attachment .* was altered/);
  });

  it("names a zero check that was written past the journal", async () => {
    await tamper(
      `insert into gauge (plant_id, id, key, name, kind, principle, resolution_um) values (PLANT, '${uuidV7()}', 'BG-9', 'bore gauge', 'bore', 'two-point', 1)`,
    );
    await tamper(
      `insert into zero_check (plant_id, id, gauge_id, ring_id, at, reading_mm, drift_um, limit_um, occasion) select PLANT, '${uuidV7()}', id, id, now(), 41, 0, 3, 'shift start' from gauge where plant_id = PLANT and key = 'BG-9'`,
    );
    expect((await faults())[0]).toMatch(/zero_check .* is in no entry/);
  });

  describe("what frames are judged by, and what was done to the process", () => {
    const gauge = { key: "BG-2", name: "bore gauge", kind: "bore", principle: "two-point", resolutionUm: 1 } as const;
    const made = { calibratedAt: "2026-01-01T00:00:00Z", calibratedUntil: "2026-07-01T00:00:00Z" };
    const event = () =>
      ({ id: uuidV7(), kind: "reamer changed", at: "2026-02-01T10:00:00Z", text: "reamer R-7 fitted" }) as const;
    const calibration = {
      gauge: "BG-2",
      at: "2026-03-01T00:00:00Z",
      dueAt: "2026-09-01T00:00:00Z",
      certificate: "K-1",
    };

    beforeEach(async () => {
      await createGauge(plant.system, { ...gauge, ...made });
      await addCalibration(plant.system, { ...calibration, biasUm: 0.4 });
      await addEvent(await plant.as("engineer"), event());
    });

    it("is vouched for: calibrations, events, released drawings and plans", async () => {
      const { rows, faults: found } = await verifyJournal(plant.plantId);
      expect({ rows, found }).toEqual({ rows: 16 + (await gaugesOfPlant()), found: [] });
    });

    it.each([
      [
        "setup",
        "calibration",
        "due_at = due_at + interval '1 year'",
        "gauge_id = (select id from gauge g where g.plant_id = calibration.plant_id and g.key = 'BG-2') and certificate is null",
      ],
      ["gauges", "calibration", "due_at = due_at + interval '1 year'", "certificate = 'K-1'"],
      ["gauges", "calibration", "bias_um = 0", "certificate = 'K-1'"],
      ["setup", "event", "at = at - interval '1 day'", "true"],
      ["setup", "event", "text = 'nothing was done'", "true"],
      ["setup", "drawing_revision", "content = jsonb_set(content, '{seatDepthMm}', '99')", "true"],
      ["setup", "drawing_revision", "released_by_id = gen_random_uuid()", "true"],
      ["setup", "measuring_plan_revision", "reading_names = reading_names[2:]", "true"],
      ["setup", "measuring_plan_revision", "frames = jsonb_build_object('kind', 'none')", "true"],
    ])("names in the chain %s a row of %s of which %s", async (chain, table, change, which) => {
      await tamper(`update ${table} set ${change} where plant_id = PLANT and ${which}`);
      const found = await faults();
      expect(found).toHaveLength(1);
      expect(found[0]).toMatch(new RegExp(`^${chain} \\d+ ${table} \\S+ was altered since`));
    });

    it.each(["calibration", "event", "drawing_revision", "measuring_plan_revision"])(
      "names a removed row of %s",
      async (table) => {
        await tamper(`delete from ${table} where plant_id = PLANT`);
        expect((await faults())[0]).toMatch(new RegExp(`${table} \\S+ was removed since`));
      },
    );

    it("stays vouched for when a newer revision supersedes it, and a draft is nobody's concern yet", async () => {
      const { rows } = await database.pool.query("select content from drawing_revision where plant_id = $1", [
        plant.plantId,
      ]);
      const { id } = await draftDrawing(plant.system, { drawing: { ...rows[0]?.content, revision: "Z" } });
      await beginVouching(plant.plantId);
      expect(await faults()).toEqual([]);
      await releaseDrawing(plant.system, id);
      expect(await faults()).toEqual([]);
      // The drawing's new revision and its state, and the two people of the set-up above.
      expect((await verifyJournal(plant.plantId)).rows).toBe(20 + (await gaugesOfPlant()));
    });

    it("is vouched for once as it is, where an earlier version wrote it; afterwards what no entry knows is named", async () => {
      const copy = (text: string) =>
        tamper(
          `insert into event (plant_id, id, kind, at, text) values (PLANT, gen_random_uuid(), 'tool', now(), '${text}')`,
        );
      await copy("by an earlier version");
      expect(await faults()).toEqual([]);
      await Promise.all([beginVouching(plant.plantId), beginVouching(plant.plantId)]);
      const { rows } = await database.pool.query(
        "select payload, jsonb_array_length(subjects) as subjects from journal_entry where plant_id = $1 and action = 'journal.vouches-for' and payload ? 'earlier'",
        [plant.plantId],
      );
      expect(rows).toMatchObject([{ payload: { earlier: 1 }, subjects: 1 }]);
      await copy("past the journal");
      await beginVouching(plant.plantId);
      const found = await faults();
      expect(found).toHaveLength(1);
      expect(found[0]).toMatch(/^- null event \S+ is in no entry/);
      await tamper("delete from event where plant_id = PLANT and text = 'past the journal'");
      await tamper("update event set text = 'other' where plant_id = PLANT and text = 'by an earlier version'");
      expect((await faults())[0]).toMatch(/event \S+ was altered since "journal.vouches-for"/);
    });
  });

  it("anchors once for the same heads", async () => {
    expect(await anchorJournal(plant.plantId)).toBe(anchor);
  });
});
