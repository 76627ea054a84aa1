import { afterAll, beforeAll, beforeEach, describe, expect, it, vi } from "vitest";
import { uuidV7 } from "@/lib/schemas/identifier";
import { sql } from "@/lib/server/db/sql";
import { searchEverything } from "@/lib/server/frames/queries";
import { closeEscapes, countEscapes, listClosedEscapes, listEscapes } from "@/lib/server/gate/escapes";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { shipFrame } from "@/lib/server/shipments/ship-frame";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, TEST_BATCH, type TestPlant } from "../../helpers/plant";

vi.mock("@/lib/server/auth/signature", () => ({ assertSigned: (viewer: unknown) => Promise.resolve(viewer) }));

let database: TestDatabase;
let plant: TestPlant;
beforeAll(async () => {
  database = await createTestDatabase();
});
afterAll(async () => database.drop());
beforeEach(async () => {
  plant = await createTestPlant({ frames: 3 });
  const serials = ["T-0001", "T-0002", "T-0003"];
  await recordInspections(
    plant.system,
    serials.map((serial) => plant.inspection(serial)),
  );
  const dock = await plant.as("dock");
  for (const serial of serials) await shipFrame(dock, { id: uuidV7(), serial });
  // As a withdrawal or a failed check leaves it.
  await database.pool.query(sql`
    insert into escape (plant_id, id, frame_id, reason, opened_at)
    select plant_id, gen_random_uuid(), id, 'Gauge TB-1 failed its zero check.', now() from frame
    where plant_id = ${plant.plantId} and serial in ('T-0001', 'T-0002')`);
});
const manager = () => plant.as("supplier_manager");

describe("escapes", () => {
  it("say which frames, where they went and by whom, and are found from the search", async () => {
    const escapes = await listEscapes(await manager());
    expect(escapes).toMatchObject([
      { serial: "T-0001", batch: TEST_BATCH, supplier: "Test supplier", shippedBy: "Test dock" },
      { serial: "T-0002", reason: "Gauge TB-1 failed its zero check." },
    ]);
    expect(escapes[0]?.shippedAt).not.toBeNull();
    expect(await countEscapes(await manager())).toBe(2);
    const hits = async (text: string) =>
      (await searchEverything(await manager(), text)).filter(({ kind }) => kind === "escape").map(({ label }) => label);
    expect(await hits("T-0001")).toEqual(["T-0001"]);
    expect(await hits("T-0003")).toEqual([]);
    expect(await hits("escap")).toEqual(["Escapes"]);
  });

  it("are closed by one signed act that says who was told and what was done", async () => {
    const escapes = (await listEscapes(await manager())).map(({ id }) => id);
    const act = { id: uuidV7(), escapes, told: "the buyer, by phone", grounds: "called back", password: "x" };
    for (let sent = 0; sent < 2; sent += 1) await closeEscapes(await manager(), act);
    expect(await listEscapes(await manager())).toEqual([]);
    expect(await countEscapes(await manager())).toBe(0);
    expect(await listClosedEscapes(await manager())).toMatchObject([
      {
        serials: ["T-0001", "T-0002"],
        told: "the buyer, by phone",
        grounds: "called back",
        person: "Test supplier_manager",
      },
    ]);
    const { rows } = await database.pool.query<{ action: string; payload: { serials: string[] } }>(
      sql`select action, payload from journal_entry where plant_id = ${plant.plantId} and action = 'escapes.closed'`,
    );
    expect(rows).toMatchObject([{ payload: { serials: ["T-0001", "T-0002"] } }]);
    await expect(closeEscapes(await manager(), { ...act, id: uuidV7() })).rejects.toMatchObject({ code: "conflict" });
    expect((await searchEverything(await manager(), "escapes")).filter(({ kind }) => kind === "escape")).toEqual([]);
  });

  it("are closed by who decides only, and never those of another plant", async () => {
    const [escape] = await listEscapes(await manager());
    const act = { id: uuidV7(), escapes: [escape?.id ?? ""], told: "the buyer", grounds: "called back", password: "x" };
    for (const role of ["inspector", "dock", "auditor", "administrator"] as const)
      await expect(closeEscapes(await plant.as(role), act)).rejects.toMatchObject({ code: "forbidden" });
    const other = await createTestPlant({ frames: 1 });
    await expect(closeEscapes(await other.as("engineer"), act)).rejects.toMatchObject({ code: "conflict" });
    expect(await listEscapes(await other.as("engineer"))).toEqual([]);
    expect(await countEscapes(await manager())).toBe(2);
  });
});
