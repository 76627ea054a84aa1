import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { uuidV7 } from "@/lib/schemas/identifier";
import { sql } from "@/lib/server/db/sql";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { withdrawInspection } from "@/lib/server/inspections/withdraw-inspection";
import { createGauge } from "@/lib/server/gauges/change-gauges";
import { shipFrame } from "@/lib/server/shipments/ship-frame";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, type TestPlant } from "../../helpers/plant";

let database: TestDatabase;
let plant: TestPlant;

/** Rows of the kinds that no command of this test makes. */
async function insertTheRest(): Promise<void> {
  const { plantId } = plant;
  const { personId } = await plant.as("engineer");
  await database.pool.query(sql`
    with part as (
      select (select id from gauge where plant_id = ${plantId} and key = 'BG-1') as gauge, (select id from frame where plant_id = ${plantId} limit 1) as frame,
        (select id from inspection where plant_id = ${plantId} limit 1) as inspection,
        (select id from stream where plant_id = ${plantId} limit 1) as stream,
        (select id from batch where plant_id = ${plantId} limit 1) as batch),
    checked as (insert into zero_check (plant_id, id, gauge_id, ring_id, at, reading_mm, drift_um, limit_um, occasion)
      select ${plantId}, ${uuidV7()}, gauge, ${uuidV7()}, now(), 41, 0, 3, 'shift start' from part),
    happened as (insert into event (plant_id, id, kind, at, text)
      values (${plantId}, ${uuidV7()}, 'tool', now(), 'reamer changed')),
    attached as (insert into attachment (plant_id, id, inspection_id, frame_id, name, media_type, bytes, content_hash)
      select ${plantId}, ${uuidV7()}, inspection, frame, 'T-0001.jpg', 'image/jpeg', '\\x00', sha256('\\x00') from part),
    limited as (insert into limit_set (plant_id, id, stream_id, version, center, sigma, method, baseline_from, baseline_to, frames,
        provisional)
      select ${plantId}, ${uuidV7()}, stream, 1, 40.975, 0.002, '{}', now(), now(), 25, true from part),
    escaped as (insert into escape (plant_id, id, frame_id, inspection_id, reason)
      select ${plantId}, ${uuidV7()}, frame, inspection, 'shipped before' from part),
    badged as (insert into former_badge (plant_id, code, until, person_id)
      values (${plantId}, 'D1', now(), ${personId})),
    renamed as (insert into former_identity (plant_id, person_id, until, name)
      values (${plantId}, ${personId}, now(), 'Ada')),
    spread as (insert into alarm_scheme (plant_id, id, version, budget, streams, expected, reason, effective_from, created_at)
      values (${plantId}, ${uuidV7()}, 1, 1, '[]', 0, 'first', now(), now())),
    approved as (insert into stream_baseline (plant_id, id, watch_id, stream, version, kind, frames, ages, left_out, outliers, centre,
        sd, region, started, after_at, after_id, reason, created_at, person_id)
      values (${plantId}, ${uuidV7()}, ${uuidV7()}, 'offset', 1, 'approved', '{}', '{}', '{}', '{}', '{0,0}', 1, '{}', '{}', now(),
        ${uuidV7()}, 'new ring', now(), ${personId})),
    schemed as (insert into sampling_scheme (plant_id, id, supplier_id, model_id, version, scheme, reason, person_id, created_at)
      select ${plantId}, ${uuidV7()}, batch, batch, 1, '{}', 'agreed', ${personId}, now() from part),
    sampled as (insert into batch_sample (plant_id, batch_id, scheme_id, frames, plan, at)
      select ${plantId}, batch, ${uuidV7()}, '{}', '{}', now() from part),
    judged as (insert into sampled_lot (plant_id, batch_id, scheme_id, place, found, accepted, accepted_tighter, state, at)
      select ${plantId}, batch, ${uuidV7()}, 1, '{}', true, true, '{}', now() from part),
    tested as (insert into stream_tests (plant_id, id, watch_id, stream, version, tests, reason, created_at, person_id)
      values (${plantId}, ${uuidV7()}, ${uuidV7()}, 'ds.ovality', 1, '{EWMA}', 'slow growth', now(), ${personId})),
    noted as (insert into case_entry (plant_id, id, case_id, kind, at, person_id, text)
      values (${plantId}, ${uuidV7()}, ${uuidV7()}, 'step', now(), ${personId}, 'looked at the reamer')),
    signalled as (insert into signal (plant_id, id, stream_id, rule, inspection_id, measured_at, detail)
      select ${plantId}, ${uuidV7()}, stream, 'beyond', inspection, now(), '{}' from part)
    insert into decision (plant_id, id, kind, batch_id, grounds, evidence, person_id, content_hash)
    select ${plantId}, ${uuidV7()}, 'release', batch, 'looked at', '{}', ${personId}, sha256('\\x00') from part`);
}

beforeAll(async () => {
  database = await createTestDatabase();
  plant = await createTestPlant({ frames: 3 });
  const inspections = ["T-0001", "T-0002"].map((serial) => plant.inspection(serial));
  await recordInspections(plant.system, inspections);
  const withdrawal = { id: inspections[1]?.id ?? "", reason: "another frame was on the stand" };
  await withdrawInspection(await plant.as("engineer"), withdrawal);
  await shipFrame(await plant.as("dock"), { id: uuidV7(), serial: "T-0001" });
  const times = { calibratedAt: "2026-01-01T00:00:00Z", calibratedUntil: "2027-01-01T00:00:00Z" };
  const kind = { kind: "bore", principle: "two-point", resolutionUm: 1 } as const;
  await createGauge(plant.system, { key: "BG-1", name: "bore gauge", ...kind, ...times });
  await insertTheRest();
});
afterAll(async () => database.drop());

/** Table, and a change that would make other evidence of a row. */
const CHANGES = {
  inspection: "verdict = 'not proven'",
  inspection_withdrawal: "reason = 'another'",
  decision: "grounds = 'others'",
  shipment: "answer = 'refused'",
  journal_entry: "actor = 'somebody'",
  zero_check: "reading_mm = 40.999",
  calibration: "due_at = due_at + interval '1 year'",
  event: "text = 'nothing was done'",
  attachment: "bytes = '\\x01'",
  limit_set: "upper = 99",
  escape: "reason = 'none'",
  signal: "rule = 'another'",
  drawing_revision: "content = content || '{\"x\": 1}'",
  measuring_plan_revision: "reading_names = reading_names[2:]",
  characteristic: "upper = upper + 1",
  former_badge: "code = 'D2'",
  former_identity: "name = 'Eve'",
  alarm_scheme: "budget = 100",
  stream_baseline: "sd = 2",
  stream_tests: "tests = '{}'",
  case_entry: "text = 'nothing was done'",
  sampling_scheme: "version = 2",
  batch_sample: 'frames = \'{"kind":"all"}\'',
  sampled_lot: "accepted = false",
};
const REFUSED = { code: "23001", message: expect.stringMatching(/never change/) as string };

describe.each(Object.entries(CHANGES))("a row of %s", (table, change) => {
  const where = () => `where plant_id = '${plant.plantId}'`;

  it("is there, and is neither changed nor deleted nor emptied away", async () => {
    const rows = async () => (await database.owner.query(`select to_jsonb(t) as row from ${table} t ${where()}`)).rows;
    const before = await rows();
    expect(before.length).toBeGreaterThan(0);
    await expect(database.owner.query(`update ${table} set ${change} ${where()}`)).rejects.toMatchObject(REFUSED);
    await expect(database.owner.query(`delete from ${table} ${where()}`)).rejects.toMatchObject({ code: "23001" });
    await expect(database.owner.query(`truncate ${table} cascade`)).rejects.toMatchObject(REFUSED);
    expect(await rows()).toEqual(before);
  });
});

describe("what may still change", () => {
  const run = (text: string) => database.owner.query(text, [plant.plantId]);

  it("is what became of an escape and of a signal", async () => {
    expect((await run("update escape set closed_at = now() where plant_id = $1")).rowCount).toBe(1);
    expect((await run("update signal set state = 'assigned', cause = 'reamer' where plant_id = $1")).rowCount).toBe(1);
  });

  it("is a draft, until it is released", async () => {
    const draft = uuidV7();
    await database.owner.query(sql`
      insert into drawing_revision (plant_id, id, drawing_id, revision, content, feature_names)
      select plant_id, ${draft}, drawing_id, 'draft', content, feature_names from drawing_revision where plant_id = ${plant.plantId}`);
    const change = (what: string) =>
      database.owner.query(`update drawing_revision set ${what} where plant_id = $1 and id = $2`, [
        plant.plantId,
        draft,
      ]);
    expect((await change("content = '{}'")).rowCount).toBe(1);
    expect((await change("state = 'released'")).rowCount).toBe(1);
    await expect(change("content = '[]'")).rejects.toMatchObject(REFUSED);
    await expect(change("state = 'draft'")).rejects.toMatchObject({ code: "23001" });
    expect((await change("state = 'superseded'")).rowCount).toBe(1);
    await expect(change("state = 'released'")).rejects.toMatchObject({ code: "23001" });
  });

  it("is no characteristic of a released drawing, not even a new one", async () => {
    await expect(
      run(`insert into characteristic (plant_id, drawing_revision_id, name, position, unit, upper, critical, uncertainty)
        select plant_id, id, 'another', 99, 'mm', 1, false, 0.1 from drawing_revision where plant_id = $1 and revision <> 'draft'`),
    ).rejects.toMatchObject(REFUSED);
  });
});
