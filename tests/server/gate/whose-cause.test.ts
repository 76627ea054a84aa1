import { afterAll, beforeAll, beforeEach, describe, expect, it, vi } from "vitest";
import type { DecidedGroup } from "@/lib/schemas/decision";
import { uuidV7 } from "@/lib/schemas/identifier";
import { sql } from "@/lib/server/db/sql";
import { getFrameRecord } from "@/lib/server/frames/queries";
import { decideGroups, releaseBatch } from "@/lib/server/gate/commands";
import { readOwnCosts } from "@/lib/server/gate/own-costs";
import { getBatch } from "@/lib/server/gate/queries";
import { createSettingRing } from "@/lib/server/gauges/change-gauges";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, TEST_BATCH, type TestPlant } from "../../helpers/plant";

// Limits and U of press-fit 41 (invented): bore 40.950 to 41.000 mm, U 5.9 µm.
vi.mock("@/lib/server/auth/signature", () => ({ assertSigned: (viewer: unknown) => Promise.resolve(viewer) }));

const BAD = { "ds.bore.2@12-6": 40.9 };

let database: TestDatabase;
let plant: TestPlant;
beforeAll(async () => {
  database = await createTestDatabase();
});
afterAll(async () => database.drop());
beforeEach(async () => {
  plant = await createTestPlant({ frames: 4 });
  await recordInspections(plant.system, [
    plant.inspection("T-0001", BAD),
    plant.inspection("T-0002", BAD),
    plant.inspection("T-0003"),
    plant.inspection("T-0004"),
  ]);
});

const manager = () => plant.as("supplier_manager");
const batch = async () => getBatch(await manager(), TEST_BATCH);
const group = (
  disposition: DecidedGroup["disposition"],
  serials: readonly string[],
  more: Partial<DecidedGroup> = {},
): DecidedGroup => ({ id: uuidV7(), disposition, serials: [...serials], grounds: "agreed on the phone", ...more });
const decide = async (...groups: DecidedGroup[]) => {
  const { id: batchId, version: batchVersion } = await batch();
  return decideGroups(await manager(), { batchId, batchVersion, password: "x", groups });
};
const dayFromNow = (days: number): string => new Date(Date.now() + days * 86_400_000).toISOString().slice(0, 10);
const states = async () => (await batch()).frames.map(({ state }) => state);

/** A zero check beyond its limit, by a gauge of the batch, an hour after it was measured. */
async function failZeroCheck(): Promise<void> {
  await createSettingRing(plant.system, { key: "R-41", certifiedSizeMm: 41, uncertaintyUm: 1 });
  await database.pool.query(sql`
    insert into zero_check (plant_id, id, gauge_id, ring_id, at, reading_mm, drift_um, limit_um, occasion)
    select i.plant_id, ${uuidV7()}, g.id, r.id, i.measured_at + interval '1 hour', 41.01, 10, 3, 'other'
    from inspection i join gauge g on g.plant_id = i.plant_id and g.key = any(i.gauge_keys) join setting_ring r on r.plant_id = g.plant_id
    where i.plant_id = ${plant.plantId} limit 1`);
}

describe("a return against our own cause", () => {
  it("goes as before where the evidence does not say whose cause it is", async () => {
    expect((await batch()).cause).toMatchObject({ side: "open", points: [{ code: "after-work", side: "ours" }] });
    await decide(group("return_to_supplier", ["T-0001"]));
    expect(await states()).toEqual(["returned", "held", "measured", "measured"]);
  });

  it("asks for a reason where a gauge of ours failed, and keeps it with the decision and its cost", async () => {
    await failZeroCheck();
    const { cause } = await batch();
    expect(cause.side).toBe("ours");
    expect(cause.points[0]?.text).toMatch(
      /^\S+, which measured them, failed a zero check or had no calibration then\.$/,
    );
    const refused = decide(group("return_to_supplier", ["T-0001"]));
    await expect(refused).rejects.toMatchObject({
      code: "invalid-input",
      fields: [{ path: "againstCause" }],
      userMessage: expect.stringMatching(/^The evidence says that the cause is ours: .*Nothing was changed\.$/),
    });
    expect(await states()).toEqual(["held", "held", "measured", "measured"]);
    await decide(
      group("return_to_supplier", ["T-0001"], { cause: "ours", againstCause: "they agreed to take it", cost: 120.5 }),
    );
    expect((await batch()).decisions[0]?.cause).toEqual({
      side: "ours",
      said: "ours",
      against: "they agreed to take it",
      cost: 120.5,
    });
  });

  it("asks for it, too, where the signer says that the cause is ours", async () => {
    await expect(decide(group("return_to_supplier", ["T-0001"], { cause: "ours" }))).rejects.toMatchObject({
      userMessage: expect.stringMatching(/^You say that the cause is ours\./),
    });
    await decide(group("scrap", ["T-0001"], { cause: "ours", cost: 300 }));
    expect((await batch()).decisions[0]).toMatchObject({ kind: "scrap", cause: { said: "ours", cost: 300 } });
  });
});

describe("several groups in one act", () => {
  it("are all recorded under one signature, and once where the act is sent again", async () => {
    const groups = [group("return_to_supplier", ["T-0001"]), group("rework", ["T-0002"]), group("scrap", ["T-0003"])];
    const { id: batchId, version: batchVersion } = await batch();
    const act = { batchId, batchVersion, password: "x", groups };
    for (let sent = 0; sent < 2; sent += 1) expect(await decideGroups(await manager(), act)).toEqual({ frames: 3 });
    expect(await states()).toEqual(["returned", "in_rework", "scrapped", "measured"]);
    const { decisions } = await batch();
    expect(decisions).toHaveLength(3);
    // The picture is kept once, the cause with each of them.
    expect(decisions.map(({ cause }) => cause?.side)).toEqual(["open", "open", "open"]);
    expect((await batch()).version).toBe(batchVersion + 1);
  });

  it("are refused under a key that stands for something else: another end, cause or cost, or other groups beside it", async () => {
    const given = group("concession", ["T-0001"], { lastDay: dayFromNow(20), cause: "ours", cost: 5 });
    await decide(given);
    await decide(given);
    for (const other of [
      { lastDay: dayFromNow(30) },
      { cost: 7 },
      { cost: undefined },
      { cause: "supplier" as const },
      { againstCause: "they agreed" },
    ])
      await expect(decide({ ...given, ...other })).rejects.toMatchObject({ code: "already-recorded-differently" });
    await expect(decide(given, group("scrap", ["T-0003"]))).rejects.toMatchObject({
      code: "already-recorded-differently",
      userMessage: expect.stringMatching(/without the others\. Nothing was changed\./),
    });
    const twice = group("rework", ["T-0002"]);
    await expect(decide(twice, { ...group("scrap", ["T-0003"]), id: twice.id })).rejects.toMatchObject({
      code: "invalid-input",
      userMessage: expect.stringContaining("same key"),
    });
    expect((await batch()).decisions).toHaveLength(1);
  });

  it("change nothing where one of them cannot be, or a frame is in two", async () => {
    await expect(decide(group("rework", ["T-0001"]), group("release", ["T-0002"]))).rejects.toMatchObject({
      code: "refused",
    });
    await expect(decide(group("rework", ["T-0001"]), group("scrap", ["T-0001"]))).rejects.toMatchObject({
      code: "invalid-input",
      userMessage: "Frame T-0001 is in two groups: choose one for it. Nothing was changed.",
    });
    await expect(decide(group("rework", ["T-0001"]), group("scrap", ["OTHER-1"]))).rejects.toMatchObject({
      code: "not-found",
    });
    expect(await states()).toEqual(["held", "held", "measured", "measured"]);
    expect((await batch()).decisions).toEqual([]);
  });

  it("are refused on a picture that is older than the evidence", async () => {
    const { id: batchId, version } = await batch();
    await decide(group("scrap", ["T-0003"]));
    await expect(
      decideGroups(await manager(), {
        batchId,
        batchVersion: version,
        password: "x",
        groups: [group("scrap", ["T-0004"])],
      }),
    ).rejects.toMatchObject({ code: "conflict" });
  });
});

describe("a batch that has left", () => {
  it("stays readable as it was when it was decided", async () => {
    const before = await batch();
    await decide(group("return_to_supplier", ["T-0001", "T-0002"]), group("scrap", ["T-0003", "T-0004"]));
    const after = await batch();
    expect(after.state).toBe("gone");
    expect(after.verdicts).toEqual({ conforms: 2, "does not conform": 2, "not proven": 0, "not measured": 0 });
    expect(after.was?.at).toBe(after.decisions[0]?.at);
    expect(after.was?.reasons).toEqual(before.decision.reasons);
    expect(after.was?.reasons.length).toBeGreaterThan(0);
    // The picture of the act is kept once.
    expect(after.decisions.filter(({ picture }) => picture !== null)).toHaveLength(1);
  });

  it("shows what its frames were found to be where its decisions kept no picture", async () => {
    await decide(group("scrap", ["T-0001", "T-0002", "T-0003", "T-0004"]));
    await database.owner.query(sql`alter table decision disable trigger user`);
    await database.owner.query(sql`update decision set evidence = '{"batch": "x"}' where plant_id = ${plant.plantId}`);
    await database.owner.query(sql`alter table decision enable trigger user`);
    const { was, verdicts } = await batch();
    expect(was).toMatchObject({ at: null });
    expect(was?.reasons[0]).toMatchObject({ code: "does-not-conform", serials: ["T-0001", "T-0002"] });
    expect(verdicts["does not conform"]).toBe(2);
  });
});

describe("what our own causes cost", () => {
  it("is added up by month of what was signed as ours, and says where nobody entered an amount", async () => {
    await decide(
      group("scrap", ["T-0001"], { cause: "ours", cost: 120.5 }),
      group("rework", ["T-0002"], { cause: "ours", cost: 30 }),
      group("release", ["T-0003"]),
    );
    await decide(group("rework", ["T-0004"], { cause: "ours" }));
    const { months, decisions } = await readOwnCosts(await manager());
    // By hand: 120.50 + 30.
    expect(months).toMatchObject([{ decisions: 3, frames: 3, cost: 150.5, without: 1 }]);
    expect(decisions.map(({ kind, cost }) => [kind, cost])).toEqual(
      expect.arrayContaining([
        ["scrap", 120.5],
        ["rework", 30],
        ["rework", null],
      ]),
    );
    await expect(readOwnCosts(await plant.as("administrator"))).rejects.toMatchObject({ code: "forbidden" });
  });

  it("leaves out what the supplier causes", async () => {
    await decide(group("return_to_supplier", ["T-0001"], { cause: "supplier", cost: 10 }));
    expect(await readOwnCosts(await manager())).toEqual({ months: [], decisions: [] });
  });
});

describe("the history of a frame", () => {
  it("reads no release of its batch after the frame went back", async () => {
    await decide(group("return_to_supplier", ["T-0001", "T-0002"]));
    const { id: batchId, version: batchVersion } = await batch();
    const release = { id: uuidV7(), batchId, batchVersion, grounds: "the rest is good", password: "x" };
    await releaseBatch(await manager(), release);
    const read = async (serial: string) =>
      (await getFrameRecord(await manager(), serial)).history.map(({ what }) => what);
    expect(await read("T-0001")).toEqual(["return_to_supplier"]);
    expect(await read("T-0003")).toEqual(["batch: release"]);
  });
});
