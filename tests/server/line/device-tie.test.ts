import { afterAll, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { POST as postInspections } from "@/app/api/v1/inspections/route";
import { POST as postGiveUp } from "@/app/api/v1/line/give-up/route";
import { POST as postLease } from "@/app/api/v1/line/leases/route";
import { POST as postPhoto } from "@/app/api/v1/line/photos/route";
import { POST as postState } from "@/app/api/v1/line/state/route";
import { POST as postWithdrawal } from "@/app/api/v1/line/withdrawals/route";
import { GET as getStations } from "@/app/api/v1/line/stations/route";
import { POST as postShipment } from "@/app/api/v1/shipments/route";
import { POST as postZeroCheck } from "@/app/api/v1/zero-checks/route";
import { uuidV7 } from "@/lib/schemas/identifier";
import type { Role } from "@/lib/schemas/people";
import { signIn } from "@/lib/server/auth/sign-in";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import { sql } from "@/lib/server/db/sql";
import { restoreDevice, revokeDevice } from "@/lib/server/line/devices";
import { createToken } from "@/lib/server/tokens/commands";
import { cookieHeader, createSignIn, PASSWORD, setTestEnvironment } from "../auth/plant-fixture";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, type TestPlant } from "../../helpers/plant";

let database: TestDatabase;
let plant: TestPlant;
let engineer: PersonViewer;

beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
});
afterAll(() => database.drop());
beforeEach(async () => {
  plant = await createTestPlant({ frames: 8, plan: "routine" });
  engineer = await plant.as("engineer");
});

type Route = (request: Request, context: { params: Promise<Record<string, string>> }) => Promise<Response>;
type Sender = { readonly headers: Record<string, string> };

async function send(route: unknown, { headers }: Sender, body: unknown, method = "POST") {
  const request = new Request("http://localhost:3000/api/v1/x", {
    method,
    headers: { ...headers, "content-type": "application/json", "sec-fetch-site": "same-origin" },
    ...(method === "GET" ? {} : { body: JSON.stringify(body) }),
  });
  const answer = await (route as Route)(request, { params: Promise.resolve({}) });
  const text = await answer.text();
  return { status: answer.status, cookies: answer.headers.getSetCookie(), body: text === "" ? null : JSON.parse(text) };
}

async function somebody(...roles: Role[]): Promise<{ email: string; viewer: PersonViewer }> {
  const email = `${uuidV7()}@plant.example`;
  return { email, viewer: await createSignIn(plant.system, email, ...roles) };
}
async function enter(email: string, cookie = ""): Promise<Sender> {
  const lines = await signIn({ email, password: PASSWORD }, new Headers({ cookie }));
  return { headers: { cookie: [cookie, cookieHeader(lines)].filter((part) => part !== "").join("; ") } };
}
const report = (deviceId: string) => ({
  deviceId,
  stationId: plant.stationId,
  waiting: 0,
  refused: 0,
  oldestAt: null,
  clockSkewMs: null,
});
const revoked = (device: string) => ({ status: 409, body: { code: "refused", details: { device, revoked: true } } });

describe("a device that was taken out of use", () => {
  it("stays out with the sign-in that it used, whatever a request names or leaves away", async () => {
    const { email } = await somebody("inspector", "dock");
    const tablet = await enter(email);
    const registered = await send(postState, tablet, report("dev-1"));
    expect(registered.status).toBe(200);
    await revokeDevice(engineer, { id: "dev-1", reason: "lost on the way" });
    const check = { id: uuidV7(), gauge: "BG", readingMm: 41, occasion: "other" };
    const tries: [unknown, unknown][] = [
      [postInspections, plant.inspection("T-0001")],
      [postInspections, { inspections: [plant.inspection("T-0001")] }],
      [postInspections, { ...plant.inspection("T-0001"), deviceId: "dev-2" }],
      [postLease, { serial: "T-0001", deviceId: "dev-2" }],
      [postGiveUp, { serial: "T-0001" }],
      [postZeroCheck, check],
      [postPhoto, { id: uuidV7(), inspectionId: uuidV7(), jpeg: "" }],
      [postShipment, { id: uuidV7(), serial: "T-0001" }],
      [postState, report("dev-2")],
    ];
    for (const [route, body] of tries) {
      const answer = await send(route, tablet, body);
      if (answer.status !== 400) expect(answer).toMatchObject(revoked("dev-1"));
    }
    const { rows } = await database.pool.query(sql`select 1 from inspection where plant_id = ${plant.plantId}`);
    expect(rows).toEqual([]);
    // Looking is no change; and it is in again when it is back in use.
    expect((await send(getStations, tablet, null, "GET")).status).toBe(200);
    await restoreDevice(engineer, "dev-1");
    expect(await send(postInspections, tablet, plant.inspection("T-0001"))).toMatchObject({ status: 200 });
  });

  it("stays out when somebody signs in on it anew, and other devices of the same person stay in", async () => {
    const { email } = await somebody("inspector");
    const tablet = await enter(email);
    const { cookies } = await send(postState, tablet, report("dev-3"));
    expect(cookies[0]).toMatch(/^shellgate\.device=.*HttpOnly; SameSite=Lax/);
    const other = await enter(email);
    await send(postState, other, report("dev-4"));
    await revokeDevice(engineer, { id: "dev-3", reason: "screen broken" });
    const anew = await enter((await somebody("inspector")).email, cookieHeader(cookies));
    expect(await send(postInspections, anew, plant.inspection("T-0001"))).toMatchObject(revoked("dev-3"));
    expect(await send(postInspections, other, plant.inspection("T-0002"))).toMatchObject({ status: 200 });
  });

  it("stays out with its token, which goes on for another device that it names", async () => {
    const { token } = await createToken(plant.system, { name: "rigs", scopes: ["readings:write"] });
    const rig = { headers: { authorization: `Bearer ${token}` } };
    const one = (serial: string, deviceId?: string) => ({
      ...plant.inspection(serial),
      ...(deviceId === undefined ? {} : { deviceId }),
    });
    for (const [serial, id] of [
      ["T-0001", "rig-1"],
      ["T-0002", "rig-2"],
    ] as const)
      expect((await send(postInspections, rig, one(serial, id))).status).toBe(200);
    await database.pool.query(sql`insert into device (plant_id, id, name) values (${plant.plantId}, 'rig-1', 'Rig 1')`);
    await revokeDevice(engineer, { id: "rig-1", reason: "sold" });
    expect(await send(postInspections, rig, one("T-0003"))).toMatchObject(revoked("rig-1"));
    expect(await send(postInspections, rig, one("T-0003", "rig-1"))).toMatchObject({ status: 409 });
    expect(await send(postInspections, rig, one("T-0003", "rig-never-seen"))).toMatchObject(revoked("rig-1"));
    expect(await send(postLease, rig, { serial: "T-0003", deviceId: "rig-never-seen" })).toMatchObject({ status: 409 });
    expect(await send(postInspections, rig, one("T-0003", "rig-2"))).toMatchObject({ status: 200 });
  });
});

describe("a frame in hand on another device", () => {
  it("is given up by that device, also after a new sign-in on it, and not by who only names it", async () => {
    const { email } = await somebody("inspector");
    const tablet = await enter(email);
    const { cookies } = await send(postState, tablet, report("dev-5"));
    expect((await send(postLease, tablet, { serial: "T-0001", deviceId: "dev-5" })).status).toBe(200);
    const thief = await enter((await somebody("inspector")).email);
    await send(postState, thief, report("dev-5"));
    await send(postLease, thief, { serial: "T-0002", deviceId: "dev-5" });
    expect(await send(postGiveUp, thief, { serial: "T-0001", deviceId: "dev-5" })).toMatchObject({ status: 403 });
    const next = await enter((await somebody("inspector")).email, cookieHeader(cookies));
    expect(await send(postGiveUp, next, { serial: "T-0001", deviceId: "dev-5" })).toMatchObject({ status: 200 });
    const { rows } = await database.pool.query<{ lease: string | null }>(sql`
      select lease_device_id as lease from frame where plant_id = ${plant.plantId} and serial = 'T-0001'`);
    expect(rows).toEqual([{ lease: null }]);
  });

  it("is given up by an engineer with a reason only, which stands in the journal, even where the device is named", async () => {
    const tablet = await enter((await somebody("inspector")).email);
    await send(postLease, tablet, { serial: "T-0003", deviceId: "dev-6" });
    const boss = await enter((await somebody("engineer")).email);
    expect(await send(postGiveUp, boss, { serial: "T-0003", deviceId: "dev-6" })).toMatchObject({
      status: 400,
      body: { fields: [{ path: "reason" }] },
    });
    const given = { serial: "T-0003", deviceId: "dev-6", reason: "tablet fell into the coolant" };
    expect(await send(postGiveUp, boss, given)).toMatchObject({ status: 200 });
    const { rows } = await database.pool.query(sql`
      select payload from journal_entry where plant_id = ${plant.plantId} and action = 'frame.measurement-given-up'`);
    expect(rows).toEqual([{ payload: { serial: "T-0003", device: "dev-6", reason: given.reason } }]);
  });
});

it("an inspection is not withdrawn on the device that recorded it", async () => {
  const { email } = await somebody("inspector");
  const tablet = await enter(email);
  const { cookies } = await send(postState, tablet, report("dev-7"));
  const inspection = { ...plant.inspection("T-0001"), deviceId: "dev-7" };
  expect((await send(postInspections, tablet, inspection)).status).toBe(200);
  const { email: bossEmail } = await somebody("engineer");
  const here = await enter(bossEmail, cookieHeader(cookies));
  const withdrawal = { id: inspection.id, reason: "wrong frame" };
  const refused = {
    status: 409,
    body: { details: { tie: "device" }, detail: expect.stringMatching(/on another device/) },
  };
  expect(await send(postWithdrawal, here, withdrawal)).toMatchObject(refused);
  const elsewhere = await enter(bossEmail);
  expect(await send(postWithdrawal, elsewhere, { ...withdrawal, deviceId: "dev-7" })).toMatchObject(refused);
  expect(await send(postWithdrawal, elsewhere, withdrawal)).toMatchObject({ status: 200 });
});
