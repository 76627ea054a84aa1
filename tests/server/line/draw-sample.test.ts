import { afterAll, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { GET as getStation } from "@/app/api/v1/line/stations/[id]/route";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { randomChoice } from "@/lib/core/sampling/random-choice";
import type { StationKit } from "@/lib/schemas/station-package";
import { signIn } from "@/lib/server/auth/sign-in";
import { getPool } from "@/lib/server/db/client";
import { sql } from "@/lib/server/db/sql";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import { drawSample } from "@/lib/server/line/draw-sample";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { askForFrames, createTestPlant, TEST_BATCH, type TestPlant } from "../../helpers/plant";
import { cookieHeader, createSignIn, ORIGIN, PASSWORD, setTestEnvironment } from "../auth/plant-fixture";

let database: TestDatabase;
let plant: TestPlant;
let run = 0;

beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
});
afterAll(() => database.drop());
beforeEach(async () => {
  plant = await createTestPlant({ frames: 12, plan: "routine" });
  run += 1;
});

async function plannedSerials(role: "inspector" | "auditor"): Promise<string[]> {
  const email = `${role}-${run}-${Math.round(performance.now())}@plant.example`;
  await createSignIn(plant.system, email, role);
  const cookie = cookieHeader(await signIn({ email, password: PASSWORD }, new Headers()));
  const request = new Request(`${ORIGIN}/api/v1/line/stations/x`, { headers: { host: "localhost:3000", cookie } });
  const response = await getStation(request, { params: Promise.resolve({ id: plant.stationId }) });
  const kit = (await response.json()) as StationKit;
  return kit.frames.flatMap(({ frames }) => frames.filter((one) => one.planned).map((one) => one.serial));
}

const draws = async () =>
  (
    await getPool().query<{ payload: { seed: number; serials: string[]; frames: number; list: string } }>(sql`
      select payload from journal_entry where plant_id = ${plant.plantId} and action = 'sample.drawn'`)
  ).rows.map((row) => row.payload);

const serial = (place: number) => `T-${String(place + 1).padStart(4, "0")}`;

describe("frames that a plan asks for", () => {
  it("are every third with the first, by their place", async () => {
    await askForFrames(plant, { kind: "every", n: 3, firstOff: true });
    expect(await plannedSerials("inspector")).toEqual(["T-0001", "T-0003", "T-0006", "T-0009", "T-0012"]);
    expect(await draws()).toEqual([]);
  });

  it("are drawn once, by a seed that the journal keeps, when somebody who measures opens the batch", async () => {
    await askForFrames(plant, { kind: "drawn", size: 5 });
    expect(await plannedSerials("auditor")).toHaveLength(12);
    expect(await draws()).toEqual([]);
    const first = await plannedSerials("inspector");
    expect(first).toHaveLength(5);
    expect(await plannedSerials("inspector")).toEqual(first);
    expect(await plannedSerials("auditor")).toEqual(first);
    const [drawn, ...others] = await draws();
    expect(others).toEqual([]);
    expect(drawn).toMatchObject({ serials: first, frames: 12, list: expect.stringMatching(/^[0-9a-f]{64}$/) });
    // Anybody can draw them again from what the journal says.
    expect(randomChoice(12, 5, createSeededGenerator(drawn?.seed ?? -1)).map(serial)).toEqual(first);
    expect((await verifyJournal(plant.plantId)).faults).toEqual([]);
  });

  it("are drawn once by stations that open the batch at the same time, all of them where the batch is small", async () => {
    const inspector = await plant.as("inspector");
    const { rows } = await getPool().query<{ id: string }>(sql`
      select id from batch where plant_id = ${plant.plantId} and key = ${TEST_BATCH}`);
    const batch = { id: rows[0]?.id ?? "", key: TEST_BATCH, size: 4 };
    const together = await Promise.all(Array.from({ length: 6 }, () => drawSample(inspector, batch)));
    expect(new Set(together.map((serials) => serials?.join())).size).toBe(1);
    expect(await draws()).toHaveLength(1);
    expect(await drawSample(inspector, { ...batch, size: 50 })).toHaveLength(12);
  });
});
