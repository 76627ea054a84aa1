import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { GET as getFile } from "@/app/api/v1/papers/[id]/file/route";
import { GET as getState } from "@/app/api/v1/papers/[id]/route";
import { POST as postPaper } from "@/app/api/v1/papers/route";
import { uuidV7 } from "@/lib/schemas/identifier";
import { getPool } from "@/lib/server/db/client";
import { sql } from "@/lib/server/db/sql";
import { addEvent } from "@/lib/server/events/commands";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { runDueJobs } from "@/lib/server/jobs/run-job";
import { paperJob } from "@/lib/server/papers/job";
import { askPaper, forgetPapers, paperFile, paperState } from "@/lib/server/papers/papers";
import { createToken } from "@/lib/server/tokens/commands";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, type TestPlant } from "../../helpers/plant";
import { textOfPdf } from "../../helpers/read-pdf";
import { setTestEnvironment } from "../auth/plant-fixture";

const START = Date.parse("2026-03-02T06:00:00Z");
const MINUTE = 60_000;
const FRAMES = 40;

let database: TestDatabase;
let plant: TestPlant;
let streamId: string;
beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
  plant = await createTestPlant({ frames: FRAMES + 1 });
  const inspections = Array.from({ length: FRAMES }, (_, index) => ({
    ...plant.inspection(`T-${String(index + 1).padStart(4, "0")}`),
    deviceTime: new Date(START + index * MINUTE).toISOString(),
  }));
  await recordInspections(plant.system, inspections);
  await addEvent(await plant.as("engineer"), {
    id: uuidV7(),
    kind: "reamer changed",
    at: new Date(START + 5 * MINUTE).toISOString(),
    text: "Łódź R-7 fitted",
    subject: "R-7",
  });
  const { rows } = await getPool().query<{ id: string }>(
    sql`select id from stream where plant_id = ${plant.plantId} and feature = 'nds.bore.mean'`,
  );
  streamId = rows[0]?.id ?? "";
});
afterAll(async () => database.drop());

const shift = { kind: "shift", line: "L1", from: "2026-03-02T06:00:00Z", to: "2026-03-02T07:00:00Z" } as const;
const serials = (from: number, to: number) =>
  Array.from({ length: to - from + 1 }, (_, index) => `T-${String(from + index).padStart(4, "0")}`);
const made = async (about: Parameters<typeof askPaper>[1]["about"]) => {
  const engineer = await plant.as("engineer");
  const id = uuidV7();
  await askPaper(engineer, { id, about });
  await askPaper(engineer, { id, about });
  expect(await paperState(engineer, id)).toEqual({ made: 0, isReady: false, failure: null });
  expect(await paperFile(engineer, id).catch((error: unknown) => error)).toMatchObject({ code: "conflict" });
  await runDueJobs([paperJob]);
  expect(await paperState(engineer, id)).toEqual({ made: 100, isReady: true, failure: null });
  return paperFile(engineer, id);
};

describe("a document", () => {
  it("of a stream has its limits, what was done, and each frame shown, the newest first", async () => {
    const { fileName, content } = await made({ kind: "stream", streamId, frames: 38 });
    expect(fileName).toBe("L1-nds.bore.mean.pdf");
    const text = textOfPdf(content).join("\n");
    for (const told of ["Mean diameter of the NDS seat", "38 of 40", "Łódź R-7 fitted", "40.950 mm to 41.000 mm"])
      expect(text).toContain(told);
    const listed = text.slice(text.indexOf("Frames, newest first")).match(/T-\d{4}/g);
    expect(listed).toEqual(serials(3, 40).reverse());
  });

  it("of a shift has its counts and each inspection of that stretch", async () => {
    const { fileName, content } = await made({ ...shift, to: "2026-03-02T06:10:00Z" });
    expect(fileName).toBe("L1-2026-03-02.pdf");
    const text = textOfPdf(content).join("\n");
    expect(text.match(/T-\d{4}/g)).toEqual(serials(1, 10));
    expect(text).toContain("Łódź R-7 fitted");
  });

  it("of nothing is a document that says so", async () => {
    const { content } = await made({ ...shift, from: "2026-01-01T00:00:00Z", to: "2026-01-02T00:00:00Z" });
    expect(textOfPdf(content).join("\n")).toContain("No frame was measured in this stretch.");
  });

  it("that cannot be made says so after its last try, and is asked for anew", async () => {
    const engineer = await plant.as("engineer");
    const id = uuidV7();
    await askPaper(engineer, { id, about: shift });
    await getPool().query(sql`update paper set about = jsonb_set(about, '{line}', '"L9"') where id = ${id}`);
    await runDueJobs([paperJob]);
    expect(await paperState(engineer, id)).toMatchObject({ isReady: false, failure: null });
    await runDueJobs([paperJob], true);
    expect(await paperState(engineer, id)).toMatchObject({
      isReady: false,
      failure: expect.stringContaining("could not be made"),
    });
    expect(await paperFile(engineer, id).catch((error: unknown) => error)).toMatchObject({ code: "conflict" });
  });

  it("of what is not there is refused before it is made", async () => {
    const engineer = await plant.as("engineer");
    for (const about of [
      { kind: "stream", streamId: uuidV7(), frames: 10 },
      { ...shift, line: "L9" },
    ] as const) {
      const id = uuidV7();
      expect(await askPaper(engineer, { id, about }).catch((error: unknown) => error)).toMatchObject({
        code: "not-found",
      });
      expect(await paperState(engineer, id).catch((error: unknown) => error)).toMatchObject({ code: "not-found" });
    }
  });

  it("is asked for once under its key: another one under it is refused, and the first one stays", async () => {
    const engineer = await plant.as("engineer");
    const id = uuidV7();
    await askPaper(engineer, { id, about: shift });
    const other = { id, about: { ...shift, to: "2026-03-02T06:05:00Z" } };
    expect(await askPaper(engineer, other).catch((error: unknown) => error)).toMatchObject({
      code: "already-recorded-differently",
    });
    await runDueJobs([paperJob]);
    expect(textOfPdf((await paperFile(engineer, id)).content).join("\n")).toContain("T-0040");
  });

  it("is for who may export, and goes after a week", async () => {
    const about = { kind: "stream", streamId, frames: 1 } as const;
    for (const role of ["inspector", "dock"] as const)
      expect(
        await askPaper(await plant.as(role), { id: uuidV7(), about }).catch((error: unknown) => error),
      ).toMatchObject({
        code: "forbidden",
      });
    const auditor = await plant.as("auditor");
    const id = uuidV7();
    await askPaper(auditor, { id, about });
    await getPool().query(sql`update paper set asked_at = now() - interval '8 days' where id = ${id}`);
    await forgetPapers();
    expect(await paperState(auditor, id).catch((error: unknown) => error)).toMatchObject({ code: "not-found" });
  });

  it("is asked for, followed and fetched over HTTP", async () => {
    const { token } = await createToken(await plant.as("administrator"), { name: "report", scopes: ["results:read"] });
    const id = uuidV7();
    const request = (path: string, body?: unknown) =>
      new Request(`http://localhost:3000/api/v1/papers${path}`, {
        headers: { authorization: `Bearer ${token}`, "content-type": "application/json" },
        ...(body === undefined ? {} : { method: "POST", body: JSON.stringify(body) }),
      });
    const at = { params: Promise.resolve({ id }) };
    expect((await getState(request(`/${id}`), at)).status).toBe(404);
    const bad = { id, about: { ...shift, to: "2026-05-02T07:00:00Z" } };
    expect((await postPaper(request("", bad), { params: Promise.resolve({}) })).status).toBe(400);
    const good = { id, about: shift };
    expect((await postPaper(request("", good), { params: Promise.resolve({}) })).status).toBe(200);
    expect((await getFile(request(`/${id}/file`), at)).status).toBe(409);
    await runDueJobs([paperJob]);
    const file = await getFile(request(`/${id}/file`), at);
    expect([file.status, file.headers.get("content-type")]).toEqual([200, "application/pdf"]);
    expect(
      Buffer.from(await file.arrayBuffer())
        .subarray(0, 5)
        .toString(),
    ).toBe("%PDF-");
  });
});
