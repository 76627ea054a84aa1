import { afterAll, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { POST as postGiveUp } from "@/app/api/v1/line/give-up/route";
import { POST as postLease } from "@/app/api/v1/line/leases/route";
import { POST as postState } from "@/app/api/v1/line/state/route";
import { GET as getStations } from "@/app/api/v1/line/stations/route";
import { GET as getStation } from "@/app/api/v1/line/stations/[id]/route";
import { POST as postWithdrawal } from "@/app/api/v1/line/withdrawals/route";
import { uuidV7 } from "@/lib/schemas/identifier";
import type { Role } from "@/lib/schemas/people";
import { signIn } from "@/lib/server/auth/sign-in";
import { getPool } from "@/lib/server/db/client";
import { sql } from "@/lib/server/db/sql";
import { recordInspection } from "@/lib/server/inspections/record-inspections";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, TEST_BATCH, type TestPlant } from "../../helpers/plant";
import { cookieHeader, createSignIn, ORIGIN, PASSWORD, setTestEnvironment } from "../auth/plant-fixture";

let database: TestDatabase;
let plant: TestPlant;
let run = 0;
/** Cookie and person of one of each role, signed in to the plant of the test. */
let people: Record<"inspector" | "engineer" | "dock", { cookie: string; personId: string }>;

beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
});
afterAll(() => database.drop());

beforeEach(async () => {
  plant = await createTestPlant({ frames: 4, plan: "routine" });
  run += 1;
  const enter = async (role: Role) => {
    const email = `${role}-${run}@plant.example`;
    const { personId } = await createSignIn(plant.system, email, role);
    return { cookie: cookieHeader(await signIn({ email, password: PASSWORD }, new Headers())), personId };
  };
  people = { inspector: await enter("inspector"), engineer: await enter("engineer"), dock: await enter("dock") };
});

type Handler = (request: Request, context: { params: Promise<Record<string, string>> }) => Promise<Response>;
type Answer = { status: number; body: Record<string, unknown> };

async function call(handler: Handler, who: keyof typeof people | null, body?: unknown, params = {}): Promise<Answer> {
  const request = new Request(`${ORIGIN}/api/v1/line`, {
    method: body === undefined ? "GET" : "POST",
    headers: {
      host: "localhost:3000",
      origin: ORIGIN,
      "content-type": "application/json",
      ...(who === null ? {} : { cookie: people[who].cookie }),
    },
    ...(body === undefined ? {} : { body: JSON.stringify(body) }),
  });
  const response = await handler(request, { params: Promise.resolve(params) });
  return { status: response.status, body: (await response.json()) as Record<string, unknown> };
}

const frameState = async (serial: string) =>
  (
    await getPool().query<{ state: string; lease: string | null }>(sql`
      select state::text as state, lease_device_id as lease from frame
      where plant_id = ${plant.plantId} and serial = ${serial}`)
  ).rows[0];

describe("GET stations", () => {
  it("lists the stations in use, for who may look at Line", async () => {
    const answer = await call(getStations, "inspector");
    expect(answer).toMatchObject({
      status: 200,
      body: { stations: [{ id: plant.stationId, key: "S1", line: "L1", viewingSide: "ds" }] },
    });
    expect(await call(getStations, "dock")).toMatchObject({ status: 403, body: { code: "forbidden" } });
    expect(await call(getStations, null)).toMatchObject({ status: 401, body: { code: "not-signed-in" } });
  });
});

describe("GET stations/{id}", () => {
  it("gives plans, batches, frames and gauges of the station", async () => {
    const answer = await call(getStation, "inspector", undefined, { id: plant.stationId });
    expect(answer).toMatchObject({
      status: 200,
      body: {
        station: { id: plant.stationId },
        batches: [{ key: TEST_BATCH, frames: 4, measured: 0 }],
        plans: [{ planRevisionId: plant.planRevisionId, frames: { kind: "all" } }],
        frames: [{ batch: TEST_BATCH, frames: [{ serial: "T-0001", position: 1 }, {}, {}, {}] }],
      },
    });
    expect(Math.abs(Number(answer.body.serverTime) - Date.now())).toBeLessThan(60_000);
  });

  it("refuses others, unknown stations and what is no key", async () => {
    expect(await call(getStation, "dock", undefined, { id: plant.stationId })).toMatchObject({ status: 403 });
    expect(await call(getStation, "inspector", undefined, { id: uuidV7() })).toMatchObject({
      status: 404,
      body: { code: "not-found" },
    });
    expect(await call(getStation, "inspector", undefined, { id: "S1" })).toMatchObject({
      status: 400,
      body: { code: "invalid-input", fields: [{ path: "id" }] },
    });
  });
});

describe("POST leases and give-up", () => {
  it("takes a frame in hand, keeps it from another device, and gives it up", async () => {
    const taken = await call(postLease, "inspector", { serial: "T-0001", deviceId: "dev-1", batch: TEST_BATCH });
    expect(taken).toMatchObject({ status: 200, body: { serial: "T-0001", batch: TEST_BATCH, inspections: 0 } });
    expect(await frameState("T-0001")).toEqual({ state: "in_measurement", lease: "dev-1" });
    expect(await call(postLease, "inspector", { serial: "T-0001", deviceId: "dev-2" })).toMatchObject({
      status: 409,
      body: { code: "frame-leased", details: { device: "dev-1" } },
    });
    expect(await call(postGiveUp, "inspector", { serial: "T-0001", deviceId: "dev-2", reason: "mine" })).toMatchObject({
      status: 403,
    });
    expect(await call(postGiveUp, "engineer", { serial: "T-0001", deviceId: "dev-2" })).toMatchObject({
      status: 400,
      body: { fields: [{ path: "reason" }] },
    });
    expect(await call(postGiveUp, "inspector", { serial: "T-0001", deviceId: "dev-1" })).toMatchObject({ status: 200 });
    expect(await frameState("T-0001")).toEqual({ state: "unmeasured", lease: null });
  });

  it("lets an engineer give up the measurement of a lost device, with a reason in the journal", async () => {
    await call(postLease, "inspector", { serial: "T-0002", deviceId: "dev-lost" });
    const answer = await call(postGiveUp, "engineer", { serial: "T-0002", reason: "device broken" });
    expect(answer.status).toBe(200);
    const { rows } = await getPool().query(sql`
      select payload from journal_entry
      where plant_id = ${plant.plantId} and action = 'frame.measurement-given-up'`);
    expect(rows).toEqual([{ payload: { serial: "T-0002", device: "dev-lost", reason: "device broken" } }]);
  });

  it("refuses other roles, unknown serials, wrong batches and bad input", async () => {
    expect(await call(postLease, "dock", { serial: "T-0001", deviceId: "d" })).toMatchObject({ status: 403 });
    expect(await call(postGiveUp, "dock", { serial: "T-0001", deviceId: "d" })).toMatchObject({ status: 403 });
    expect(await call(postLease, "inspector", { serial: "T-9999", deviceId: "d" })).toMatchObject({ status: 404 });
    expect(await call(postGiveUp, "inspector", { serial: "T-9999", deviceId: "d" })).toMatchObject({ status: 404 });
    expect(await call(postLease, "inspector", { serial: "T-0001", deviceId: "d", batch: "X" })).toMatchObject({
      status: 409,
      body: { code: "wrong-batch" },
    });
    expect(await call(postLease, "inspector", { serial: "T-0001" })).toMatchObject({
      status: 400,
      body: { fields: [{ path: "deviceId" }] },
    });
    expect(await call(postGiveUp, "inspector", { serial: "" })).toMatchObject({ status: 400 });
  });
});

describe("POST state", () => {
  const report = () => ({
    deviceId: "dev-1",
    stationId: plant.stationId,
    waiting: 3,
    refused: 1,
    oldestAt: 1_700_000_000_000,
    clockSkewMs: -250,
  });

  it("keeps what the device says of itself and answers with the server's time", async () => {
    const answer = await call(postState, "inspector", report());
    expect(answer.status).toBe(200);
    expect(Math.abs(Number(answer.body.serverTime) - Date.now())).toBeLessThan(60_000);
    const { rows } = await getPool().query(sql`
      select id, station_id, queue from device where plant_id = ${plant.plantId}`);
    expect(rows).toEqual([
      {
        id: "dev-1",
        station_id: plant.stationId,
        queue: {
          waiting: 3,
          refused: 1,
          oldestAt: 1_700_000_000_000,
          clockSkewMs: -250,
          batch: null,
          batchSince: null,
          differences: [],
        },
      },
    ]);
  });

  it("refuses a device that was taken out of use, other roles and bad input", async () => {
    await call(postState, "inspector", report());
    await getPool().query(sql`update device set revoked_at = now() where plant_id = ${plant.plantId}`);
    expect(await call(postState, "inspector", report())).toMatchObject({ body: { code: "refused" } });
    expect(await call(postState, "dock", report())).toMatchObject({ status: 403 });
    expect(await call(postState, "inspector", { ...report(), waiting: -1 })).toMatchObject({
      status: 400,
      body: { fields: [{ path: "waiting" }] },
    });
  });
});

describe("POST withdrawals", () => {
  const measured = async (by: "inspector" | "engineer") => {
    const inspection = plant.inspection("T-0003");
    const viewer = {
      kind: "person",
      plantZone: "UTC",
      plantId: plant.plantId,
      personId: people[by].personId,
      name: by,
      roles: [by],
    } as const;
    await recordInspection(viewer, inspection);
    return inspection.id;
  };

  it("withdraws somebody else's inspection, once", async () => {
    const id = await measured("inspector");
    expect((await frameState("T-0003"))?.state).not.toBe("unmeasured");
    const answer = await call(postWithdrawal, "engineer", { id, reason: "wrong frame on the stand" });
    expect(answer).toEqual({ status: 200, body: { serial: "T-0003", frameState: "unmeasured" } });
    expect((await frameState("T-0003"))?.state).toBe("unmeasured");
    expect(await call(postWithdrawal, "engineer", { id, reason: "again" })).toMatchObject({ status: 404 });
    expect((await verifyJournal(plant.plantId)).faults).toEqual([]);
  });

  it("refuses who made it, other roles and bad input", async () => {
    const own = await measured("engineer");
    expect(await call(postWithdrawal, "engineer", { id: own, reason: "mine" })).toMatchObject({
      body: { code: "refused", detail: expect.stringMatching(/somebody else has to withdraw it/) },
    });
    expect(await call(postWithdrawal, "inspector", { id: own, reason: "not mine" })).toMatchObject({
      status: 403,
      body: { code: "forbidden" },
    });
    expect(await call(postWithdrawal, "engineer", { id: own, reason: " " })).toMatchObject({ status: 400 });
    expect((await frameState("T-0003"))?.state).not.toBe("unmeasured");
  });
});
