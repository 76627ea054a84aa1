import { afterAll, beforeAll, expect, it } from "vitest";
import { getPool } from "@/lib/server/db/client";
import { sql } from "@/lib/server/db/sql";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { uuidV7 } from "@/lib/schemas/identifier";
import { shipFrame } from "@/lib/server/shipments/ship-frame";
import { createTestDatabase, type TestDatabase } from "../helpers/database";
import { createTestPlant, type TestPlant } from "../helpers/plant";

const FRAMES = 3000;
let database: TestDatabase;
let plant: TestPlant;
beforeAll(async () => {
  database = await createTestDatabase();
  plant = await createTestPlant({ frames: FRAMES });
});
afterAll(async () => database.drop());

it("counts of a batch are those of a recount after thousands of recordings and ship scans at once", async () => {
  const dock = await plant.as("dock");
  const serial = (index: number) => `T-${String(index + 1).padStart(4, "0")}`;
  const next = { record: 0, ship: 0 };
  const recorder = async (): Promise<void> => {
    while (next.record < FRAMES) {
      const index = next.record++;
      const bad: Record<string, number> = index % 9 === 0 ? { "ds.bore.2@12-6": 41.4 } : {};
      await recordInspections(plant.system, [plant.inspection(serial(index), bad)]);
    }
  };
  const shipper = async (): Promise<void> => {
    while (next.ship < FRAMES) await shipFrame(dock, { id: uuidV7(), serial: serial(next.ship++) });
  };
  await Promise.all([recorder(), recorder(), recorder(), shipper(), shipper()]);
  const { rows } = await getPool().query(sql`
    select t.frames, t.unmeasured, t.held, t.shipped, count(*)::int as "framesNow",
      count(*) filter (where f.inspections = 0 and f.state in ('unmeasured', 'in_measurement'))::int as "unmeasuredNow",
      count(*) filter (where f.state = 'held')::int as "heldNow", count(*) filter (where f.state = 'shipped')::int as "shippedNow"
    from batch_tally t join frame f on f.plant_id = t.plant_id and f.batch_id = t.batch_id
    group by t.plant_id, t.batch_id`);
  expect(rows.length).toBe(1);
  const { frames, unmeasured, held, shipped, framesNow, unmeasuredNow, heldNow, shippedNow } = rows[0] ?? {};
  expect([frames, unmeasured, held, shipped]).toEqual([framesNow, unmeasuredNow, heldNow, shippedNow]);
  console.info(
    `batch-tally-races: ${FRAMES} recorded and scanned at once, ${held} held, ${shipped} shipped, no difference`,
  );
});
