import { afterAll, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { uuidV7 } from "@/lib/schemas/identifier";
import { recordInspectionSchema } from "@/lib/schemas/inspection";
import { sql } from "@/lib/server/db/sql";
import { recordInspection, recordInspections } from "@/lib/server/inspections/record-inspections";
import { createOperation, createStation } from "@/lib/server/plant/create-parts";
import { shipFrame } from "@/lib/server/shipments/ship-frame";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, TEST_BATCH, type TestPlant } from "../../helpers/plant";

let database: TestDatabase;
let plant: TestPlant;
beforeAll(async () => {
  database = await createTestDatabase();
});
afterAll(async () => database.drop());
beforeEach(async () => {
  plant = await createTestPlant({ frames: 40 });
});

const frameOf = async (serial: string) =>
  (
    await database.pool.query(
      sql`select state::text as state, verdict, inspections, lease_device_id from frame where plant_id = ${plant.plantId} and serial = ${serial}`,
    )
  ).rows[0];
const countRows = async (table: "inspection" | "escape" | "outbox" | "journal_entry"): Promise<number> => {
  const { rows } = await database.pool.query({
    text: `select count(*)::int as n from ${table} where plant_id = $1`,
    values: [plant.plantId],
  });
  return rows[0].n;
};
const refusalOf = (work: Promise<unknown>) => work.then(() => null).catch((error: unknown) => error);

describe("recordInspection", () => {
  it("stores a conforming inspection and moves its frame to measured", async () => {
    const inspector = await plant.as("inspector");
    const input = plant.inspection("T-0001");
    const outcome = await recordInspection(inspector, input);
    expect(outcome).toMatchObject({
      status: "recorded",
      verdict: "conforms",
      held: false,
      batch: TEST_BATCH,
      batchHeld: false,
    });
    expect(await frameOf("T-0001")).toMatchObject({ state: "measured", verdict: "conforms", inspections: 1 });
    const { rows } = await database.pool.query(sql`
      select readings, features, states, inspector_id from inspection where plant_id = ${plant.plantId} and id = ${input.id}`);
    expect(rows[0].readings).toEqual(input.readings);
    expect(rows[0].inspector_id).toBe(inspector.personId);
    expect(rows[0].features[0]).toBe(40.975);
  });

  it("holds frame and batch when a critical characteristic does not conform", async () => {
    const outcome = await recordInspection(plant.system, plant.inspection("T-0002", { "nds.bore.8@12-6": 40.93 }));
    expect(outcome).toMatchObject({ verdict: "does not conform", held: true, batchHeld: true });
    expect(outcome.reasons.map((one) => [one.name, one.seat])).toContainEqual(["bore", "nds"]);
    expect(await frameOf("T-0002")).toMatchObject({ state: "held" });
  });

  it("recognises a repeated send and writes nothing", async () => {
    const input = plant.inspection("T-0003");
    await recordInspection(plant.system, input);
    const before = await countRows("journal_entry");
    expect(await recordInspection(plant.system, input)).toMatchObject({ status: "repeated", verdict: "conforms" });
    expect(await countRows("inspection")).toBe(1);
    expect(await countRows("journal_entry")).toBe(before);
  });

  it("refuses another inspection under a key that is taken", async () => {
    const input = plant.inspection("T-0003");
    await recordInspection(plant.system, input);
    const other = { ...plant.inspection("T-0004"), id: input.id };
    expect(await refusalOf(recordInspection(plant.system, other))).toMatchObject({
      code: "already-recorded-differently",
    });
    expect(await frameOf("T-0004")).toMatchObject({ state: "unmeasured" });
  });

  it("names the likely slip of 419 instead of 41.9 and keeps nothing", async () => {
    const refused = await refusalOf(
      recordInspection(plant.system, plant.inspection("T-0005", { "ds.bore.2@12-6": 40975 })),
    );
    expect(refused).toMatchObject({ code: "invalid-input" });
    expect((refused as Error).message).toMatch(/40\.975/);
    expect(await countRows("inspection")).toBe(0);
  });

  it("takes an unlikely value that was confirmed, and no impossible one", async () => {
    const confirmed = (value: number) => {
      const input = plant.inspection("T-0005", { "ds.bore.2@12-6": value });
      const states = input.readings.map((one) => (one === value ? ("confirmed" as const) : ("measured" as const)));
      return recordInspection(plant.system, { ...input, states });
    };
    expect(await refusalOf(confirmed(39))).toMatchObject({ code: "invalid-input" });
    expect(await confirmed(41.3)).toMatchObject({ verdict: "does not conform" });
  });

  it("calls a frame with a missing reading not measured and holds it", async () => {
    const outcome = await recordInspection(plant.system, plant.inspection("T-0006", { "width@12": null }));
    expect(outcome).toMatchObject({ verdict: "not measured", held: true });
  });

  it("answers an unknown serial with known ones that look like it", async () => {
    const refused = await refusalOf(recordInspection(plant.system, plant.inspection("T-0070")));
    expect(refused).toMatchObject({ code: "not-found" });
    expect((refused as Error).message).toMatch(/T-0007/);
  });

  it("refuses a serial of another batch and names the right one", async () => {
    const refused = await refusalOf(recordInspection(plant.system, { ...plant.inspection("T-0001"), batch: "OTHER" }));
    expect(refused).toMatchObject({ code: "wrong-batch" });
    expect((refused as Error).message).toContain(TEST_BATCH);
  });

  it("refuses a time in the future but corrects the skew of a device's clock", async () => {
    const ahead = new Date(Date.now() + 3_600_000).toISOString();
    const input = { ...plant.inspection("T-0001"), deviceTime: ahead };
    expect(await refusalOf(recordInspection(plant.system, input))).toMatchObject({ code: "invalid-input" });
    expect(await recordInspection(plant.system, { ...input, clockSkewMs: 3_600_000 })).toMatchObject({
      status: "recorded",
    });
    const { rows } = await database.pool.query(
      sql`select device_time, measured_at, recorded_at from inspection where plant_id = ${plant.plantId}`,
    );
    expect(rows[0].device_time.toISOString()).toBe(ahead);
    expect(rows[0].measured_at <= rows[0].recorded_at).toBe(true);
  });

  it("takes readings from a device whose clock lost its battery, with both times, and none whose own time nobody knows", async () => {
    const first = new Date("1980-01-06T00:00:00Z");
    const input = { ...plant.inspection("T-0001"), deviceTime: first.toISOString() };
    expect(await refusalOf(recordInspection(plant.system, input))).toMatchObject({ details: { clock: true } });
    const sent = { ...input, clockSkewMs: first.getTime() - Date.now() };
    expect(recordInspectionSchema.safeParse(sent).success).toBe(true);
    expect(await recordInspection(plant.system, sent)).toMatchObject({ status: "recorded" });
    const { rows } = await database.pool.query(
      sql`select device_time, measured_at, recorded_at from inspection where plant_id = ${plant.plantId}`,
    );
    expect(rows[0].device_time).toEqual(first);
    expect(Math.abs(rows[0].recorded_at - rows[0].measured_at)).toBeLessThan(60_000);
  });

  it("asks for a reason to measure again, and lets no good reading take a failure back", async () => {
    await recordInspection(plant.system, plant.inspection("T-0008", { "nds.bore.8@12-6": 40.93 }));
    const again = plant.inspection("T-0008");
    expect(await refusalOf(recordInspection(plant.system, again))).toMatchObject({ code: "refused" });
    const outcome = await recordInspection(plant.system, { ...again, reason: "gauge had slipped" });
    // 40.930 is proven to lie below 40.950, and differs from 40.975 by more than both U.
    expect(outcome).toMatchObject({ ordinal: 2, verdict: "conforms", frameVerdict: "does not conform", held: true });
    expect(outcome.reasons.find(({ name }) => name === "bore")?.reason).toMatch(/40\.930 mm.*40\.975 mm/);
  });

  it("gives a measurement after rework its reason itself and leaves the old readings out", async () => {
    await recordInspection(plant.system, plant.inspection("T-0009", { "nds.bore.8@12-6": 40.93 }));
    // A little before now: the next inspection may come within the same millisecond.
    await database.pool.query(sql`
      update frame set state = 'in_rework', evidence_from = now() - interval '5 ms'
      where plant_id = ${plant.plantId} and serial = 'T-0009'`);
    const outcome = await recordInspection(plant.system, plant.inspection("T-0009"));
    expect(outcome).toMatchObject({ ordinal: 2, verdict: "conforms", frameVerdict: "conforms", held: false });
    const { rows } = await database.pool.query(sql`
      select reason from inspection where plant_id = ${plant.plantId} and ordinal = 2`);
    expect(rows).toEqual([{ reason: "measured again after rework" }]);
  });

  it("keeps a hold found at one operation when the next one conforms", async () => {
    await createOperation(plant.system, { key: "painted", name: "after paint", position: 2 });
    const after = await createStation(plant.system, {
      key: "S2",
      name: "Station 2",
      line: "L1",
      operation: "painted",
      viewingSide: "ds",
    });
    await recordInspection(plant.system, plant.inspection("T-0010", { "nds.bore.8@12-6": 40.93 }));
    const painted = { ...plant.inspection("T-0010"), stationId: after.id };
    const outcome = await recordInspection(plant.system, painted);
    expect(outcome).toMatchObject({ ordinal: 1, verdict: "conforms", frameVerdict: "does not conform", held: true });
    expect(await frameOf("T-0010")).toMatchObject({ state: "held", verdict: "does not conform", inspections: 2 });
  });

  it("opens an escape when a failing reading arrives after shipment", async () => {
    await recordInspections(
      plant.system,
      Array.from({ length: 40 }, (_, index) => plant.inspection(`T-${String(index + 1).padStart(4, "0")}`)),
    );
    const dock = await plant.as("dock");
    expect(await shipFrame(dock, { id: uuidV7(), serial: "T-0009" })).toMatchObject({ answer: "shipped" });
    const late = { ...plant.inspection("T-0009", { "ds.bore.2@12-6": 40.9 }), reason: "second look" };
    const outcome = await recordInspection(plant.system, late);
    expect(outcome.warnings.join(" ")).toMatch(/shipped/);
    expect(await frameOf("T-0009")).toMatchObject({ state: "shipped" });
    expect(await countRows("escape")).toBe(1);
  });

  it("records the good ones of many and answers each of the others", async () => {
    const outcomes = await recordInspections(plant.system, [
      plant.inspection("T-0010"),
      plant.inspection("NO-SUCH"),
      plant.inspection("T-0011", { "ds.face@0": 4000 }),
      plant.inspection("T-0012"),
    ]);
    expect(outcomes.map((one) => one.status)).toEqual(["recorded", "refused", "refused", "recorded"]);
    expect(await countRows("inspection")).toBe(2);
  });

  it("keeps the order of one device whose clock was set back between two frames", async () => {
    const at = Date.now() - 10 * 60_000;
    const first = { ...plant.inspection("T-0021"), deviceId: "dev-1", deviceTime: new Date(at).toISOString() };
    const again = { ...plant.inspection("T-0021"), deviceId: "dev-1", reason: "reading in doubt" };
    const earlier = { ...plant.inspection("T-0022"), deviceTime: new Date(at - 30 * 60_000).toISOString() };
    const setBack = { ...again, deviceTime: new Date(at - 60 * 60_000).toISOString() };
    const outcomes = await recordInspections(plant.system, [first, setBack, earlier]);
    expect(outcomes.map((one) => [one.status, "ordinal" in one ? one.ordinal : null])).toEqual([
      ["recorded", 1],
      ["recorded", 2],
      ["recorded", 1],
    ]);
  });

  it("keeps the count right when two stations write at once", async () => {
    const serials = Array.from({ length: 40 }, (_, index) => `T-${String(index + 1).padStart(4, "0")}`);
    await Promise.all(serials.map((serial) => recordInspection(plant.system, plant.inspection(serial))));
    expect(await countRows("inspection")).toBe(40);
    const { rows } = await database.pool.query(sql`
      select points from stream where plant_id = ${plant.plantId} and feature = 'nds.bore.mean'`);
    expect(rows).toEqual([{ points: 40 }]);
    const { rows: chain } = await database.pool.query(sql`
      select c.length::int - count(e.*)::int as missing,
        sum(jsonb_array_length(jsonb_path_query_array(e.subjects, '$[*] ? (@.table == "inspection")')))::int as vouched
      from journal_chain c join journal_entry e on e.plant_id = c.plant_id and e.chain = c.chain
      where c.plant_id = ${plant.plantId} and c.chain = 'line:L1' group by c.length`);
    expect(chain).toEqual([{ missing: 0, vouched: 40 }]);
  });

  it("names each sender in an entry of its own when their inspections are recorded together", async () => {
    const [first, second] = [await plant.as("inspector"), await plant.as("inspector")];
    await Promise.all([
      recordInspection(plant.system, plant.inspection("T-0001")),
      recordInspection(first, plant.inspection("T-0002")),
      recordInspection(second, plant.inspection("T-0003")),
      recordInspection(first, plant.inspection("T-0004")),
    ]);
    const { rows } = await database.pool.query(sql`
      select actor, sum(jsonb_array_length(jsonb_path_query_array(subjects, '$[*] ? (@.table == "inspection")')))::int as n
      from journal_entry
      where plant_id = ${plant.plantId} and chain = 'line:L1' group by actor order by n, actor`);
    expect(new Map(rows.map((row) => [row.actor, row.n]))).toEqual(
      new Map([
        ["system", 1],
        [`person:${second.personId}`, 1],
        [`person:${first.personId}`, 2],
      ]),
    );
  });

  it("sends the same inspection from two places at once and stores it once", async () => {
    const input = plant.inspection("T-0001");
    const outcomes = await Promise.all(Array.from({ length: 6 }, () => recordInspection(plant.system, input)));
    expect(outcomes.filter((one) => one.status === "recorded")).toHaveLength(1);
    expect(await countRows("inspection")).toBe(1);
  });

  it("refuses a frame that is being measured on another device", async () => {
    await database.pool.query(sql`
      update frame set lease_device_id = 'tablet-2', leased_at = now(), state = 'in_measurement'
      where plant_id = ${plant.plantId} and serial = 'T-0001'`);
    expect(await refusalOf(recordInspection(plant.system, plant.inspection("T-0001")))).toMatchObject({
      code: "frame-leased",
    });
    const own = { ...plant.inspection("T-0001"), deviceId: "tablet-2" };
    expect(await recordInspection(plant.system, own)).toMatchObject({ frameState: "measured" });
    expect(await frameOf("T-0001")).toMatchObject({ lease_device_id: null });
  });

  it("may not be done by the dock", async () => {
    const dock = await plant.as("dock");
    expect(await refusalOf(recordInspection(dock, plant.inspection("T-0001")))).toMatchObject({ code: "forbidden" });
  });
});
