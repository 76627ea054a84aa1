import { randomBytes } from "node:crypto";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { GET as getAttachment } from "@/app/api/v1/attachments/[id]/route";
import { POST as postPhoto } from "@/app/api/v1/line/photos/route";
import { uuidV7 } from "@/lib/schemas/identifier";
import { PHOTO_MAX_BYTES } from "@/lib/schemas/photo";
import { signIn } from "@/lib/server/auth/sign-in";
import { getPool } from "@/lib/server/db/client";
import { sql } from "@/lib/server/db/sql";
import { getFrameRecord } from "@/lib/server/frames/queries";
import { recordInspection } from "@/lib/server/inspections/record-inspections";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, type TestPlant } from "../../helpers/plant";
import { cookieHeader, createSignIn, ORIGIN, PASSWORD, setTestEnvironment } from "../auth/plant-fixture";

let database: TestDatabase;
let plant: TestPlant;
let cookies: Record<"inspector" | "auditor" | "administrator", string>;
let inspectionId: string;

beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
  plant = await createTestPlant({ frames: 2, plan: "routine" });
  const enter = async (role: keyof typeof cookies) => {
    await createSignIn(plant.system, `${role}@plant.example`, role);
    return cookieHeader(await signIn({ email: `${role}@plant.example`, password: PASSWORD }, new Headers()));
  };
  cookies = {
    inspector: await enter("inspector"),
    auditor: await enter("auditor"),
    administrator: await enter("administrator"),
  };
  const inspection = plant.inspection("T-0001");
  await recordInspection(plant.system, inspection);
  inspectionId = inspection.id;
});
afterAll(() => database.drop());

/** Segments of a JPEG file as ITU-T T.81 annex B lays them down: start, one application segment, start of scan, data, end. */
function jpeg(application: number, length = 200): Buffer {
  const segment = Buffer.concat([Buffer.from([0xff, application, 0, 16]), Buffer.alloc(14)]);
  const scan = Buffer.concat([Buffer.from([0xff, 0xda, 0, 2]), randomBytes(length)]);
  return Buffer.concat([Buffer.from([0xff, 0xd8]), segment, scan, Buffer.from([0xff, 0xd9])]);
}

const photo = (bytes: Buffer, change = {}) => ({
  id: uuidV7(),
  inspectionId,
  jpeg: bytes.toString("base64"),
  ...change,
});

async function send(who: keyof typeof cookies, body: unknown) {
  const headers = { host: "localhost:3000", origin: ORIGIN, "content-type": "application/json", cookie: cookies[who] };
  const request = new Request(`${ORIGIN}/api/v1/line/photos`, { method: "POST", headers, body: JSON.stringify(body) });
  const response = await postPhoto(request, { params: Promise.resolve({}) });
  return { status: response.status, body: (await response.json()) as Record<string, unknown> };
}

const open = (who: keyof typeof cookies, id: string) =>
  getAttachment(new Request(`${ORIGIN}/api/v1/attachments/${id}`, { headers: { cookie: cookies[who] } }), {
    params: Promise.resolve({ id }),
  });

describe("photos of an inspection", () => {
  it("are kept once, vouched for by the journal, and shown with the frame's record", async () => {
    const bytes = jpeg(0xe0);
    const sent = photo(bytes);
    expect(await send("inspector", sent)).toEqual({ status: 200, body: { id: sent.id, status: "recorded" } });
    expect(await send("inspector", sent)).toEqual({ status: 200, body: { id: sent.id, status: "repeated" } });
    const response = await open("auditor", sent.id);
    expect(response.headers.get("content-type")).toBe("image/jpeg");
    expect(response.headers.get("x-content-type-options")).toBe("nosniff");
    expect(Buffer.from(await response.arrayBuffer()).equals(bytes)).toBe(true);
    const record = await getFrameRecord(plant.system, "T-0001");
    expect(record.inspections.map((one) => one.photos)).toEqual([[sent.id]]);
    expect((await verifyJournal(plant.plantId)).faults).toEqual([]);
    const { rows } = await getPool().query(sql`
      select subjects -> 0 ->> 'id' as id from journal_entry where plant_id = ${plant.plantId} and action = 'photo.kept'`);
    expect(rows).toEqual([{ id: sent.id }]);
  });

  it("are refused with other bytes under the same key, or before their inspection", async () => {
    const sent = photo(jpeg(0xe0));
    await send("inspector", sent);
    expect(await send("inspector", { ...sent, jpeg: jpeg(0xe0).toString("base64") })).toMatchObject({
      status: 409,
      body: { code: "already-recorded-differently" },
    });
    expect(await send("inspector", photo(jpeg(0xe0), { inspectionId: uuidV7() }))).toMatchObject({ status: 404 });
  });

  it("are refused when they are no JPEG, too large, or carry the camera's data", async () => {
    expect(await send("inspector", photo(Buffer.from("no picture")))).toMatchObject({ status: 400 });
    expect(await send("inspector", photo(jpeg(0xe1)))).toMatchObject({
      status: 400,
      body: { detail: expect.stringMatching(/camera's data/) },
    });
    const large = await send("inspector", photo(jpeg(0xe0, PHOTO_MAX_BYTES)));
    expect(large).toMatchObject({ status: 400, body: { fields: [{ path: "jpeg" }] } });
    expect(await send("inspector", photo(jpeg(0xe0), { jpeg: "###" }))).toMatchObject({ status: 400 });
  });

  it("are kept by who measures, and seen by who may see records", async () => {
    expect(await send("auditor", photo(jpeg(0xe0)))).toMatchObject({ status: 403 });
    const sent = photo(jpeg(0xe0));
    await send("inspector", sent);
    expect((await open("administrator", sent.id)).status).toBe(403);
    expect((await open("inspector", uuidV7())).status).toBe(404);
    expect((await open("inspector", "x")).status).toBe(400);
  });
});
