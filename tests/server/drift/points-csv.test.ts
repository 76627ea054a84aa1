import { afterAll, beforeAll, expect, it } from "vitest";
import { GET } from "@/app/drift/streams/[id]/points/route";
import { GET as getRows } from "@/app/drift/why/[id]/rows/route";
import { signIn } from "@/lib/server/auth/sign-in";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant } from "../../helpers/plant";
import { cookieHeader, createSignIn, ORIGIN, PASSWORD, setTestEnvironment } from "../auth/plant-fixture";

let database: TestDatabase;
let streamId = "";
const cookies = new Map<string, string>();

beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
  const plant = await createTestPlant({ frames: 2, plan: "routine" });
  for (const role of ["inspector", "engineer"] as const) {
    await createSignIn(plant.system, `${role}@plant.example`, role);
    const entered = await signIn({ email: `${role}@plant.example`, password: PASSWORD }, new Headers());
    cookies.set(role, cookieHeader(entered));
  }
  await recordInspections(plant.system, [
    // A minute apart: points of one millisecond have no order.
    { ...plant.inspection("T-0001"), deviceTime: new Date(Date.now() - 60_000).toISOString(), tool: "=1+1" },
    { ...plant.inspection("T-0002"), tool: "R-7", fixture: "x;@SUM(A1)" },
  ]);
  const { rows } = await database.pool.query("select id from stream where plant_id = $1 and points = 2 limit 1", [
    plant.plantId,
  ]);
  streamId = rows[0].id;
  await database.owner.query("update plant set time_zone = 'Asia/Kathmandu'");
});
afterAll(() => database.drop());

const get = (role: string) =>
  GET(new Request(`${ORIGIN}/drift/streams/${streamId}/points`, { headers: { cookie: cookies.get(role) ?? "" } }), {
    params: Promise.resolve({ id: streamId }),
  });

it("gives the points of a stream to who may take records along, and to nobody else", async () => {
  expect((await get("inspector")).status).toBe(403);
  const response = await get("engineer");
  expect(response.status).toBe(200);
  expect(response.headers.get("content-type")).toBe("text/csv; charset=utf-8");
});

it("lets no cell of it start a formula, and leaves its numbers numbers", async () => {
  const [head, first = "", second = ""] = (await (await get("engineer")).text()).split("\r\n");
  expect(head).toMatch(/^frame,serial,measured_at,/);
  expect(first.split(",").slice(0, 2)).toEqual(["1", "T-0001"]);
  expect(Number(first.split(",")[3])).not.toBeNaN();
  expect(first).toContain(",'=1+1,");
  expect(second).toContain(`,"x;'@SUM(A1)",`);
});

// UTC+5:45 all the year (IANA time zone database), the zone of no browser or machine that runs this.
it("says each moment by the plant's clock, with its distance from UTC", async () => {
  const [, ...rows] = (await (await get("engineer")).text()).trim().split("\r\n");
  const moments = rows.map((row) => row.split(",")[2] ?? "");
  expect(moments).toHaveLength(2);
  for (const moment of moments) {
    expect(moment).toMatch(/^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}\+05:45$/);
    expect(Math.abs(Date.parse(moment) - Date.now())).toBeLessThan(600_000);
  }
});

it("names inspector and gauge of each point, and gives its value raw and as the screen shows it", async () => {
  const [head = "", first = ""] = (await (await get("engineer")).text()).split("\r\n");
  expect(head).toContain(",inspector,gauge,verdict,");
  const [, , , raw = "", shown = ""] = first.split(",");
  expect(shown).toMatch(/^\d+\.\d{1,3}$/);
  expect(Math.abs(Number(shown) - Number(raw))).toBeLessThan(0.05);
});

it("gives the frames of a comparison with what they were made and measured with", async () => {
  const ask = (role: string, query = "") =>
    getRows(
      new Request(`${ORIGIN}/drift/why/${streamId}/rows${query}`, { headers: { cookie: cookies.get(role) ?? "" } }),
      { params: Promise.resolve({ id: streamId }) },
    );
  expect((await ask("inspector")).status).toBe(403);
  const [head = "", ...rows] = (await (await ask("engineer", "?by=tool")).text()).trim().split("\r\n");
  expect(head).toMatch(/^serial,measured_at,shift_from,.*,inspector,gauge,tool,fixture,mould,supplier,line$/);
  expect(rows).toHaveLength(2);
  expect(rows[1]).toContain(",R-7,");
  // No frame was measured then; an odd day is no error.
  expect((await (await ask("engineer", "?from=2001-01-01&to=2001-01-02")).text()).trim().split("\r\n")).toHaveLength(1);
  expect((await ask("engineer", "?from=yesterday&by=nothing")).status).toBe(200);
  expect((await (await ask("engineer", "?by=line")).text()).trim().split("\r\n")[1]).toMatch(/,L1$/);
  const other = getRows(
    new Request(`${ORIGIN}/drift/why/none/rows`, { headers: { cookie: cookies.get("engineer") ?? "" } }),
    { params: Promise.resolve({ id: "none" }) },
  );
  expect((await other).status).toBe(404);
});
