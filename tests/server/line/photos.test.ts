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

const segment = (marker: number, content: Buffer): Buffer =>
  Buffer.concat([Buffer.from([0xff, marker, (content.length + 2) >> 8, (content.length + 2) & 255]), content]);
const SECRET = "52.3702 N 4.8952 E";
const secret = (head: string): Buffer => Buffer.from(`${head}\0${SECRET}`, "latin1");
const JFIF = Buffer.from("4a464946000102010048004800 00".replaceAll(" ", ""), "hex");
const PLAIN_JFIF = Buffer.from("4a46494600010100000100010000", "hex");

/**
 * Segments of a JPEG file as ITU-T T.81 annex B lays them down: start, application segments, start of frame, start of scan,
 * data with a stuffed byte and a restart, end.
 */
function jpeg({
  before = [segment(0xe0, PLAIN_JFIF)],
  behind = [],
  length = 200,
}: { before?: Buffer[]; behind?: Buffer[]; length?: number } = {}): Buffer {
  const data = Buffer.concat([
    randomBytes(length).map((byte) => byte & 0x7f),
    Buffer.from([0xff, 0x00, 1, 0xff, 0xd0, 2]),
  ]);
  const frame = segment(0xc0, Buffer.alloc(9));
  return Buffer.concat([
    Buffer.from([0xff, 0xd8]),
    ...before,
    frame,
    segment(0xda, Buffer.alloc(6)),
    data,
    Buffer.from([0xff, 0xd9]),
    ...behind,
  ]);
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
    const bytes = jpeg();
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
    const sent = photo(jpeg());
    await send("inspector", sent);
    expect(await send("inspector", { ...sent, jpeg: jpeg().toString("base64") })).toMatchObject({
      status: 409,
      body: { code: "already-recorded-differently" },
    });
    expect(await send("inspector", photo(jpeg(), { inspectionId: uuidV7() }))).toMatchObject({ status: 404 });
  });

  it("are refused when they are no JPEG, or too large", async () => {
    expect(await send("inspector", photo(Buffer.from("no picture")))).toMatchObject({ status: 400 });
    const large = await send("inspector", photo(jpeg({ length: PHOTO_MAX_BYTES })));
    expect(large).toMatchObject({ status: 400, body: { fields: [{ path: "jpeg" }] } });
    expect(await send("inspector", photo(jpeg(), { jpeg: "###" }))).toMatchObject({ status: 400 });
  });

  // Where each kind lies: Exif and XMP in APP1, colour profiles and further pictures in APP2, IPTC in APP13, comments in COM.
  it.each([
    ["Exif", { before: [segment(0xe1, secret("Exif\0"))] }],
    ["XMP", { before: [segment(0xe1, secret("http://ns.adobe.com/xap/1.0/"))] }],
    ["a colour profile", { before: [segment(0xe2, secret("ICC_PROFILE"))] }],
    [
      "an index of further pictures",
      { before: [segment(0xe2, secret("MPF"))], behind: [jpeg({ before: [segment(0xe1, secret("Exif\0"))] })] },
    ],
    ["IPTC", { before: [segment(0xed, secret("Photoshop 3.0"))] }],
    ["a comment", { before: [segment(0xfe, secret("made by"))] }],
    [
      "a thumbnail of JFIF",
      { before: [segment(0xe0, Buffer.concat([JFIF.subarray(0, 12), Buffer.from([2, 2]), secret("0123")]))] },
    ],
    ["an extension of JFIF", { before: [segment(0xe0, PLAIN_JFIF), segment(0xe0, secret("JFXX"))] }],
    ["a segment that no standard knows", { before: [segment(0xe9, secret("X"))] }],
    ["too long a segment of Adobe", { before: [segment(0xee, secret("Adobe"))] }],
    ["what lies behind the end", { behind: [secret("PK")] }],
    ["fill bytes before a segment", { before: [Buffer.from([0xff, 0xff]), segment(0xe1, secret("Exif\0"))] }],
  ])("lose %s, and nothing of the picture", async (_, parts) => {
    const bytes = jpeg(parts);
    const sent = photo(bytes);
    expect(await send("inspector", sent)).toMatchObject({ status: 200, body: { status: "recorded" } });
    expect(await send("inspector", sent)).toMatchObject({ status: 200, body: { status: "repeated" } });
    const kept = Buffer.from(await (await open("auditor", sent.id)).arrayBuffer());
    expect(bytes.includes(SECRET)).toBe(true);
    expect(kept.includes(SECRET)).toBe(false);
    const picture = (all: Buffer): Buffer => {
      const from = all.indexOf(Buffer.from([0xff, 0xc0]));
      return all.subarray(from, all.indexOf(Buffer.from([0xff, 0xd9]), from) + 2);
    };
    expect(picture(kept).equals(picture(bytes))).toBe(true);
    expect(kept.subarray(-2).toString("hex")).toBe("ffd9");
  });

  it("stay whole through several scans and an end that is missing", async () => {
    const [one] = [jpeg()];
    const second = Buffer.concat([
      one.subarray(0, -2),
      segment(0xc4, Buffer.alloc(20)),
      segment(0xfe, secret("x")),
      segment(0xda, Buffer.alloc(6)),
      Buffer.from([5, 6, 7]),
    ]);
    const sent = photo(second);
    expect(await send("inspector", sent)).toMatchObject({ status: 200 });
    const kept = Buffer.from(await (await open("auditor", sent.id)).arrayBuffer());
    expect(kept.includes(SECRET)).toBe(false);
    expect(kept.subarray(-5).toString("hex")).toBe("050607ffd9");
  });

  it.each([
    ["cut within a segment", jpeg().subarray(0, 12)],
    ["without a picture", Buffer.from("ffd8ffd9", "hex")],
    [
      "whose scan comes before its frame",
      Buffer.concat([Buffer.from("ffd8", "hex"), segment(0xda, Buffer.alloc(6)), Buffer.from("0102ffd9", "hex")]),
    ],
    ["with a length of 0", Buffer.from("ffd8ffe00000ffd9", "hex")],
    ["with other bytes between segments", Buffer.concat([Buffer.from("ffd80001", "hex"), jpeg().subarray(2)])],
    [
      "of more segments than a picture has",
      jpeg({ before: Array<Buffer>(20_000).fill(segment(0xdb, Buffer.alloc(0))) }),
    ],
  ])("are refused %s", async (_, bytes) => {
    expect(await send("inspector", photo(bytes))).toMatchObject({
      status: 400,
      body: { detail: expect.stringMatching(/must be a JPEG/) },
    });
  });

  it("are kept by who measures, and seen by who may see records", async () => {
    expect(await send("auditor", photo(jpeg()))).toMatchObject({ status: 403 });
    const sent = photo(jpeg());
    await send("inspector", sent);
    expect((await open("administrator", sent.id)).status).toBe(403);
    expect((await open("inspector", uuidV7())).status).toBe(404);
    expect((await open("inspector", "x")).status).toBe(400);
  });
});
