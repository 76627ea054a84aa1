import { afterAll, beforeAll, beforeEach, describe, expect, it, vi } from "vitest";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { randomChoice } from "@/lib/core/sampling/random-choice";
import { uuidV7 } from "@/lib/schemas/identifier";
import { type LotSchemeInput, setSamplingSchema } from "@/lib/schemas/sampling-scheme";
import { createBatch } from "@/lib/server/batches/commands";
import { findBatchSample, listSampling, readSamplingHistory } from "@/lib/server/batches/sampling-queries";
import { setSampling } from "@/lib/server/batches/set-sampling";
import { sql } from "@/lib/server/db/sql";
import { acceptSampleRisk } from "@/lib/server/gate/accept-sample-risk";
import { getBatch } from "@/lib/server/gate/queries";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import { listBatchFrames } from "@/lib/server/line/queries";
import { enquireFrame, shipFrame } from "@/lib/server/shipments/ship-frame";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, type TestPlant } from "../../helpers/plant";

vi.mock("@/lib/server/auth/signature", () => ({ assertSigned: (viewer: unknown) => Promise.resolve(viewer) }));

let database: TestDatabase;
let plant: TestPlant;
let opened = 0;
beforeAll(async () => {
  database = await createTestDatabase();
});
afterAll(async () => database.drop());
beforeEach(async () => {
  plant = await createTestPlant({ frames: 2, plan: "routine" });
  opened = 0;
});

const BAD = { "ds.bore.2@12-6": 40.9 };

/** Sets the sampling of the test supplier's model. */
async function set(scheme: LotSchemeInput, version = 0): Promise<void> {
  const input = { id: uuidV7(), supplier: "SUP", model: "M1", version, scheme, grounds: "agreed", password: "x" };
  await setSampling(await plant.as("supplier_manager"), setSamplingSchema.parse(input));
}

/** Opens a batch and gives its key, its frames and those that were drawn. */
async function open(frames: number) {
  opened += 1;
  const key = `LOT-${opened}`;
  const serials = Array.from({ length: frames }, (_, place) => `${key}-${String(place + 1).padStart(3, "0")}`);
  const { id } = await createBatch(plant.system, {
    key,
    supplier: "SUP",
    model: "M1",
    line: "L1",
    plan: "P1",
    serials: serials.map((serial) => ({ serial })),
  });
  const listed = await listBatchFrames(plant.system, { id, key }, { kind: "all" }, plant.stationId);
  const drawn = listed.filter(({ planned }) => planned).map(({ serial }) => serial);
  return { id, key, serials, drawn, others: serials.filter((serial) => !drawn.includes(serial)) };
}

const measure = (serials: readonly string[], bad: readonly string[] = []) =>
  recordInspections(
    plant.system,
    serials.map((serial) => plant.inspection(serial, bad.includes(serial) ? BAD : {})),
  );

const standing = async () => (await listSampling(plant.system))[0]?.standing;
const enquire = async (serial: string) => enquireFrame(await plant.as("dock"), serial);

describe("a supplier's sampling", () => {
  // ISO 2859-1:1999 tables 1 and 2-A: a lot of 50 at level II is letter D, n = 8; AQL 1.5 has Ac 0, Re 1 there.
  it("draws with the list, by a seed by which anybody draws the same, and judges the batch by its plan", async () => {
    await set({ kind: "iso-2859-1", level: "II", aql: 1.5 });
    const batch = await open(50);
    expect(batch.drawn).toHaveLength(8);
    const { rows } = await database.pool.query<{ payload: { seed: number; serials: string[] } }>(sql`
      select payload from journal_entry where plant_id = ${plant.plantId} and action = 'sample.drawn'`);
    const [entry] = rows;
    const again = randomChoice(50, 8, createSeededGenerator(entry?.payload.seed ?? 0)).map((at) => batch.serials[at]);
    expect(again).toEqual(entry?.payload.serials);
    expect(new Set(again)).toEqual(new Set(batch.drawn));
    await measure(batch.drawn.slice(0, 7));
    const early = await enquire(batch.others[0] ?? "");
    expect(early).toMatchObject({ answer: "stop" });
    expect(early.reasons.map(({ text }) => text).join(" ")).toContain(
      "1 of the 8 frames that the plan asks for in its batch LOT-1 has not been",
    );
    await measure(batch.drawn.slice(7));
    const sample = await findBatchSample(plant.system, batch);
    expect(sample?.judgement).toMatchObject({
      state: "accepted",
      measured: 8,
      found: [],
      plan: { n: 8, ac: 0, re: 1 },
    });
    // The stream is not known yet: capability holds by the default policy until somebody signs.
    const { version } = await getBatch(plant.system, batch.key);
    const risk = { id: uuidV7(), batchId: batch.id, batchVersion: version, grounds: "new line", password: "x" };
    await acceptSampleRisk(await plant.as("supplier_manager"), risk);
    const answer = await enquire(batch.others[0] ?? "");
    expect(answer.answer).toBe("go");
    expect(answer.reasons.map(({ text }) => text).join(" ")).toContain(
      "By sample 8/0 (normal, letter D) of batch LOT-1",
    );
    expect((await verifyJournal(plant.plantId)).faults).toEqual([]);
  });

  // ISO 2859-1:1999 tables 1 and 2-A: a lot of 60 at level II is letter E, n = 13; AQL 4 has Ac 1, Re 2 there.
  it("lets the rest of a batch go with as many nonconforming frames as the plan accepts, and refuses it with one more", async () => {
    await set({ kind: "iso-2859-1", level: "II", aql: 4 });
    const good = await open(60);
    expect(good.drawn).toHaveLength(13);
    await measure(good.drawn, good.drawn.slice(0, 1));
    const accepted = await getBatch(plant.system, good.key);
    expect(accepted.decision.reasons.map(({ code }) => code)).not.toContain("sample-failed");
    expect(accepted.decision.notes.find(({ code }) => code === "sample-accepted")?.text).toContain(
      "Accepted by its plan, 13/1 (normal, letter E): 1 of 13 frames of the sample count against it",
    );
    const bad = await open(60);
    await measure(bad.drawn, bad.drawn.slice(0, 2));
    const refused = await getBatch(plant.system, bad.key);
    expect(refused.decision.reasons.find(({ code }) => code === "sample-failed")?.text).toContain(
      "Not accepted by its plan, 13/1 (normal, letter E): 2 of 13 frames of the sample count against it",
    );
    const stopped = await shipFrame(await plant.as("dock"), { id: uuidV7(), serial: bad.others[0] ?? "" });
    expect(stopped.reasons.map(({ code }) => code)).toContain("sample-failed");
  });

  it("does not go by a sample beside which a measured frame fails", async () => {
    await set({ kind: "iso-2859-1", level: "II", aql: 4 });
    const batch = await open(60);
    await measure(batch.drawn);
    const [beside = ""] = batch.others;
    await measure([beside], [beside]);
    const { decision } = await getBatch(plant.system, batch.key);
    expect(decision.reasons.find(({ code }) => code === "sample-failed")?.text).toContain(
      `1 frame measured beside the sample did not conform (${beside})`,
    );
  });

  // ISO 2859-1:1999 clause 9.3.1 (from memory): 2 of 5 consecutive lots refused lead to tightened inspection.
  it("switches to tightened after two refused batches, keeps the state and says it", async () => {
    await set({ kind: "iso-2859-1", level: "II", aql: 1.5 });
    for (const round of [1, 2]) {
      const batch = await open(50);
      await measure(batch.drawn, batch.drawn.slice(0, 1));
      expect((await standing())?.severity).toBe(round === 2 ? "tightened" : "normal");
    }
    const next = await open(50);
    expect((await findBatchSample(plant.system, next))?.judgement.plan.severity).toBe("tightened");
    const { lots } = await readSamplingHistory(plant.system, { supplier: "SUP", model: "M1" });
    expect(lots.map(({ accepted }) => accepted)).toEqual([false, false]);
    expect(lots.some(({ state }) => state.severity === "tightened")).toBe(true);
    // The same level and AQL in a new version go on where they stand.
    await set({ kind: "iso-2859-1", level: "II", aql: 1.5, reducedWanted: true }, 1);
    expect((await standing())?.severity).toBe("tightened");
    expect((await verifyJournal(plant.plantId)).faults).toEqual([]);
  });

  it("says of a lot of one that it is measured, and of a small one that its sample is the whole", async () => {
    await set({ kind: "iso-2859-1", level: "II", aql: 0.65 });
    const one = await open(1);
    expect(one.drawn).toEqual(one.serials);
    expect((await findBatchSample(plant.system, one))?.judgement.plan.whole).toBe("lot-of-one");
    // Letter C with AQL 0.65: the arrow leads to letter F, n = 20, more than the lot has.
    const small = await open(20);
    expect((await findBatchSample(plant.system, small))?.judgement.plan.whole).toBe("sample-is-lot");
    expect(small.drawn).toHaveLength(20);
  });

  // ISO 3951:1989 table II-A: a lot of 60 at level II is letter E, n = 7; AQL 1 has k 1.62, and AQL 4 k 1.15.
  it("judges sizes by their mean and spread where the scheme is by variables", async () => {
    await set({ kind: "iso-3951-1", method: "s", level: "II", aql: 1 });
    const batch = await open(60);
    expect(batch.drawn).toHaveLength(7);
    // Bores at the lower limit with a spread: mean 40.960, s over 6 µm, lower limit 40.950 (press-fit 41, invented).
    const wide = batch.drawn.map((serial, at) => {
      const shift = 0.0035 * (at - 3);
      const reading = plant.inspection(serial);
      return {
        ...reading,
        readings: reading.readings.map((value, place) =>
          value !== null && plant.names[place]?.kind === "bore" ? 40.9675 + shift : value,
        ),
      };
    });
    await recordInspections(plant.system, wide);
    const judged = (await findBatchSample(plant.system, batch))?.judgement;
    expect(judged).toMatchObject({ plan: { n: 7, k: 1.62 } });
    // By hand: mean 40.9675, s = 3.5 µm x sqrt(28 / 6) = 7.561 µm, Q = 17.5 / 7.561 = 2.31 at the lower, 32.5 / 7.561 = 4.30 at the upper limit.
    const lower = judged?.statistics.find(
      ({ name, seat, side }) => name === "bore" && seat === "ds" && side === "lower",
    );
    expect(lower?.q).toBeCloseTo(2.3146, 3);
    expect(lower?.isMet).toBe(true);
    expect(judged?.state).toBe("accepted");
  });

  it("refuses an AQL between two preferred ones in words, a stale version, and who may not", async () => {
    const between = { kind: "iso-2859-1", level: "II", aql: 2 } as unknown as LotSchemeInput;
    await expect(set(between)).rejects.toThrow("2 lies between 1.5 and 2.5, take one of them");
    await set({ kind: "zero-acceptance", index: 10 });
    await expect(set({ kind: "all" })).rejects.toMatchObject({ code: "conflict" });
    const input = {
      id: uuidV7(),
      supplier: "SUP",
      model: "M1",
      version: 1,
      scheme: { kind: "all" },
      grounds: "all",
      password: "x",
    };
    await expect(setSampling(await plant.as("dock"), setSamplingSchema.parse(input))).rejects.toMatchObject({
      code: "forbidden",
    });
    await expect(setSampling(plant.system, setSamplingSchema.parse(input))).rejects.toMatchObject({
      code: "forbidden",
    });
  });
});
