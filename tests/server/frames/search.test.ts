import { afterAll, beforeAll, describe, expect, it } from "vitest";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import { getPool } from "@/lib/server/db/client";
import { sql } from "@/lib/server/db/sql";
import { searchEverything } from "@/lib/server/frames/queries";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant } from "../../helpers/plant";

let database: TestDatabase;
let auditor: PersonViewer;
beforeAll(async () => {
  database = await createTestDatabase();
  const plant = await createTestPlant({ frames: 30 });
  const other = await createTestPlant({ frames: 3 });
  auditor = await plant.as("auditor");
  for (const { plantId } of [plant, other])
    await getPool().query(sql`
      insert into frame (plant_id, id, serial, batch_id, position)
      select ${plantId}, gen_random_uuid(), s, (select id from batch where plant_id = ${plantId}), 100 + n
      from unnest(array['100%-A', '100x-A', 'Zz-Abc-9', 'q_9', 'qx9', 'ä-Ö-1', 'K77', 'K770', 'AK77-B', 'K-78-77']) with ordinality as u(s, n)`);
});
afterAll(async () => database.drop());

const labels = async (text: string, kind = "frame") =>
  (await searchEverything(auditor, text)).filter((hit) => hit.kind === kind).map(({ label }) => label);

describe("searching", () => {
  it("puts the serial itself first, then what begins with the text, then what holds it", async () => {
    expect((await labels("T-0002"))[0]).toBe("T-0002");
    expect(await labels("t-000")).toEqual(Array.from({ length: 9 }, (_, index) => `T-000${index + 1}`));
    expect(await labels("0012")).toEqual(["T-0012"]);
    expect(await labels("Abc")).toEqual(["Zz-Abc-9"]);
    expect(await labels("aBC-9")).toEqual(["Zz-Abc-9"]);
  });

  it("hides nothing that holds a short serial behind the frame of just that serial", async () => {
    expect(await labels("K77")).toEqual(["K77", "K770", "AK77-B"]);
    expect(await labels("k77-b")).toEqual(["AK77-B"]);
  });

  it("finds a text of many runs, of which the index is asked for some", async () => {
    expect(await labels("T-0017")).toEqual(["T-0017"]);
    expect(await labels("T-0017 T-0018")).toEqual([]);
    expect(await labels("-78-77")).toEqual(["K-78-77"]);
  });

  it("takes signs of patterns as they are written", async () => {
    expect(await labels("100%")).toEqual(["100%-A"]);
    expect(await labels("q_9")).toEqual(["q_9"]);
    expect(await labels("\\")).toEqual([]);
    expect(await labels("ö-1")).toEqual(["ä-Ö-1"]);
  });

  it("finds one or two characters at the beginning", async () => {
    expect(await labels("q")).toEqual(["q_9", "qx9"]);
    expect(await labels("x9")).toEqual([]);
    expect(await labels("T-")).toHaveLength(20);
  });

  it("finds batches by key and by supplier, of the own plant only", async () => {
    expect(await labels("batch", "batch")).toEqual(["T-BATCH"]);
    expect(await labels("t supplier", "batch")).toEqual(["T-BATCH"]);
    expect(await labels("no such thing", "batch")).toEqual([]);
  });
});
