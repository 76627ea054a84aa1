import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { getPool } from "@/lib/server/db/client";
import { sql } from "@/lib/server/db/sql";
import { listBatches } from "@/lib/server/gate/queries";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, type TestPlant } from "../../helpers/plant";

let database: TestDatabase;
let plant: TestPlant;
beforeAll(async () => {
  database = await createTestDatabase();
  plant = await createTestPlant({ frames: 60 });
  await getPool().query(sql`
    insert into batch (plant_id, id, key, supplier_id, model_id, line_id, plan_id, opened_at)
    select plant_id, gen_random_uuid(), 'OTHER', supplier_id, model_id, line_id, plan_id, opened_at from batch
    where plant_id = ${plant.plantId}`);
  await getPool().query(sql`
    insert into frame (plant_id, id, serial, batch_id, position)
    select ${plant.plantId}, gen_random_uuid(), 'O-' || n, (select id from batch where plant_id = ${plant.plantId} and key = 'OTHER'), n
    from generate_series(1, 40) n`);
});
afterAll(async () => database.drop());

const serial = (index: number) => `T-${String(index + 1).padStart(4, "0")}`;

/** Counts as kept against a recount of the frames, batch by batch; [] where they agree. */
async function differences(): Promise<unknown[]> {
  const { rows } = await getPool().query(sql`
    with recount as (
      select plant_id, batch_id, count(*)::int as frames,
        count(*) filter (where verdict = 'conforms')::int as conforms,
        count(*) filter (where verdict = 'does not conform')::int as not_conforming,
        count(*) filter (where verdict = 'not proven')::int as not_proven,
        count(*) filter (where verdict = 'not measured')::int as not_measured,
        count(*) filter (where inspections = 0 and state in ('unmeasured', 'in_measurement'))::int as unmeasured,
        count(*) filter (where state = 'held')::int as held,
        count(*) filter (where state = 'shipped')::int as shipped,
        count(*) filter (where state in ('shipped', 'scrapped', 'returned'))::int as gone
      from frame group by plant_id, batch_id)
    (select * from batch_tally except select * from recount) union all (select * from recount except select * from batch_tally)`);
  return rows;
}

describe("counts of a batch's frames", () => {
  it("follow what is recorded, good and bad", async () => {
    await recordInspections(plant.system, [
      plant.inspection(serial(0)),
      plant.inspection(serial(1), { "ds.bore.2@12-6": 41.4 }),
      plant.inspection(serial(2)),
    ]);
    expect(await differences()).toEqual([]);
    const [batch] = (await listBatches(await plant.as("auditor"))).filter(({ key }) => key !== "OTHER");
    expect(batch?.frames).toBe(60);
    expect(batch?.counts.unmeasured).toBe(57);
    expect((batch?.counts.notConforming ?? 0) + (batch?.counts.notProven ?? 0)).toBeGreaterThan(0);
  });

  it("stay those of a recount through a thousand random changes at once, some undone", async () => {
    const random = createSeededGenerator(16);
    const pick = (list: readonly (string | null)[]) => list[Math.floor(random.uniform() * list.length)] ?? null;
    const states = [
      "unmeasured",
      "in_measurement",
      "measured",
      "held",
      "released",
      "on_concession",
      "scrapped",
      "returned",
    ];
    const verdicts = ["conforms", "does not conform", "not proven", "not measured", null];
    const change = () => ({
      from: Math.floor(random.uniform() * 60),
      state: pick(states),
      verdict: pick(verdicts),
      inspections: Math.floor(random.uniform() * 3),
      both: random.uniform() < 0.3,
      keeps: random.uniform() < 0.7,
    });
    const writer = async (changes: readonly ReturnType<typeof change>[]): Promise<void> => {
      for (const { from, state, verdict, inspections, both, keeps } of changes) {
        const client = await getPool().connect();
        try {
          await client.query("begin");
          await client.query(sql`
            update frame set state = ${state}::"FrameState", verdict = ${verdict}, inspections = ${inspections}
            where plant_id = ${plant.plantId} and state <> 'shipped' and position between ${from} and ${from + 5}
              and (${both} or serial like 'T-%')`);
          await client.query(keeps ? "commit" : "rollback");
        } catch (error) {
          await client.query("rollback");
          // Two that lock the same frames in another order: one of them is told to try again, as everywhere.
          if ((error as { code?: string }).code !== "40P01") throw error;
        } finally {
          client.release();
        }
      }
    };
    const all = Array.from({ length: 1000 }, change);
    await Promise.all([0, 1, 2, 3].map((place) => writer(all.filter((_, index) => index % 4 === place))));
    expect(await differences()).toEqual([]);
  });

  it("are beyond the reach of the application", async () => {
    await expect(getPool().query("update batch_tally set frames = 0")).rejects.toThrow(/permission denied/);
    await expect(getPool().query("delete from batch_tally")).rejects.toThrow(/permission denied/);
  });

  it("tell a batch that has left, and list it after those that are here", async () => {
    await getPool().query(sql`
      update frame set state = 'shipped', shipped_at = now() where plant_id = ${plant.plantId} and serial like 'O-%'`);
    const batches = await listBatches(await plant.as("auditor"));
    expect(batches.map(({ key, state }) => [key === "OTHER", state === "gone"])).toEqual([
      [false, false],
      [true, true],
    ]);
    expect(await differences()).toEqual([]);
  });
});
