import { afterAll, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { POST as postEvent } from "@/app/api/v1/events/route";
import { uuidV7 } from "@/lib/schemas/identifier";
import { plantMoment, shownMoment } from "@/lib/schemas/plant-day";
import { getPool } from "@/lib/server/db/client";
import { sql } from "@/lib/server/db/sql";
import { readEvents } from "@/lib/server/drift/charted-frames";
import { addEvent, correctEvent } from "@/lib/server/events/commands";
import { listEvents } from "@/lib/server/events/queries";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import { createLine } from "@/lib/server/plant/create-parts";
import { createToken } from "@/lib/server/tokens/commands";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, type TestPlant } from "../../helpers/plant";
import { setTestEnvironment } from "../auth/plant-fixture";

let database: TestDatabase;
let plant: TestPlant;
beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
});
afterAll(async () => database.drop());
beforeEach(async () => {
  plant = await createTestPlant({ frames: 1 });
});

const refusalOf = (work: Promise<unknown>) => work.then(() => null).catch((error: unknown) => error);
const DONE = "2026-03-02T06:00:00.000Z";
const event = (more: Readonly<Record<string, unknown>> = {}) => ({
  id: uuidV7(),
  kind: "reamer changed" as const,
  at: DONE,
  text: "Reamer R-1 changed for R-2",
  ...more,
});

async function lineId(): Promise<string> {
  const { rows } = await getPool().query<{ id: string }>(
    sql`select id from line where plant_id = ${plant.plantId} and key = 'L1'`,
  );
  return rows[0]?.id ?? "";
}
const onAxis = async () => (await readEvents(plant.plantId, await lineId(), new Date(0))).map(({ text }) => text);

describe("correctEvent", () => {
  it("puts another one in its place; the first stays on the record, counts for nothing, and the journal holds", async () => {
    const engineer = await plant.as("engineer");
    const wrong = event({ lineId: await lineId() });
    await addEvent(engineer, wrong);
    const correction = {
      id: uuidV7(),
      eventId: wrong.id,
      reason: "it was the other reamer",
      instead: event({ text: "Reamer R-1 changed for R-3", at: "2026-03-02T05:00:00.000Z" }),
    };
    await correctEvent(engineer, correction);
    await correctEvent(engineer, correction);
    expect(await onAxis()).toEqual(["Reamer R-1 changed for R-3"]);
    const { events } = await listEvents(await plant.as("auditor"), { line: "L1" });
    expect(events).toMatchObject([
      {
        text: wrong.text,
        line: "L1",
        correction: { reason: correction.reason, by: engineer.name, insteadId: correction.instead.id },
      },
      { text: "Reamer R-1 changed for R-3", line: "L1", correction: null },
    ]);
    expect((await verifyJournal(plant.plantId)).faults).toEqual([]);
    await expect(
      getPool().query(sql`update event_correction set reason = 'another' where id = ${correction.id}`),
    ).rejects.toThrow(/never change|permission denied/);
  });

  it("says that nothing was done, once: who comes later is told when it was corrected", async () => {
    const engineer = await plant.as("engineer");
    const wrong = event();
    await addEvent(engineer, wrong);
    await correctEvent(engineer, { id: uuidV7(), eventId: wrong.id, reason: "entered twice", instead: null });
    expect(await onAxis()).toEqual([]);
    const again = correctEvent(engineer, { id: uuidV7(), eventId: wrong.id, reason: "other", instead: event() });
    expect(await refusalOf(again)).toMatchObject({ code: "conflict" });
    // What the refused correction brought with it was not entered either.
    expect((await listEvents(engineer)).events).toHaveLength(1);
  });

  it("refuses an event that is not there, one in its own place, one in the future, and who may not enter any", async () => {
    const engineer = await plant.as("engineer");
    const wrong = event();
    await addEvent(engineer, wrong);
    const correct = (more: object, viewer = engineer) =>
      refusalOf(correctEvent(viewer, { id: uuidV7(), eventId: wrong.id, reason: "why", instead: null, ...more }));
    expect(await correct({ eventId: uuidV7() })).toMatchObject({ code: "not-found" });
    expect(await correct({ instead: event({ id: wrong.id }) })).toMatchObject({ code: "invalid-input" });
    const ahead = new Date(Date.now() + 86_400_000).toISOString();
    expect(await correct({ instead: event({ at: ahead }) })).toMatchObject({ code: "invalid-input" });
    expect(await correct({}, await plant.as("dock"))).toMatchObject({ code: "forbidden" });
    expect(await onAxis()).toEqual([wrong.text]);
  });

  it("takes no event that stands by itself, so that two never stand for each other and none counts", async () => {
    const engineer = await plant.as("engineer");
    const [wrong, right] = [event({ text: "R-1 fitted" }), event({ text: "R-2 fitted" })];
    await addEvent(engineer, wrong);
    await addEvent(engineer, right);
    const correct = (eventId: string, instead: Readonly<Record<string, unknown>>) =>
      correctEvent(engineer, { id: uuidV7(), eventId, reason: "the label", instead: event(instead) });
    expect(await refusalOf(correct(wrong.id, right))).toMatchObject({ code: "conflict" });
    const third = event({ text: "R-3 fitted" });
    await correct(wrong.id, third);
    expect(await refusalOf(correct(third.id, wrong))).toMatchObject({ code: "conflict" });
    expect((await onAxis()).toSorted()).toEqual(["R-2 fitted", "R-3 fitted"]);
  });

  it("leaves one of two corrections that come at once", async () => {
    const engineer = await plant.as("engineer");
    const wrong = event();
    await addEvent(engineer, wrong);
    const results = await Promise.allSettled(
      ["a", "b", "c", "d"].map((name) =>
        correctEvent(engineer, { id: uuidV7(), eventId: wrong.id, reason: `because ${name}`, instead: event() }),
      ),
    );
    expect(results.filter(({ status }) => status === "fulfilled")).toHaveLength(1);
    expect(await onAxis()).toHaveLength(1);
  });
});

describe("POST /api/v1/events", () => {
  const send = async (token: string, body: unknown) => {
    const response = await postEvent(
      new Request("http://localhost:3000/api/v1/events", {
        method: "POST",
        headers: { authorization: `Bearer ${token}`, "content-type": "application/json" },
        body: JSON.stringify(body),
      }),
      { params: Promise.resolve({}) },
    );
    return { status: response.status, body: (await response.json()) as { detail?: string } };
  };
  const tokenFor = async (scope: "events:write" | "results:read") =>
    (await createToken(await plant.as("administrator"), { name: scope, scopes: [scope] })).token;

  it("records once however often it is sent, in the place of an earlier one where it says so", async () => {
    const token = await tokenFor("events:write");
    const first = event({ line: "L1", subject: "R-2" });
    for (let time = 0; time < 2; time += 1)
      expect(await send(token, first)).toEqual({ status: 200, body: { id: first.id, status: "recorded" } });
    expect(await onAxis()).toEqual([first.text]);
    const second = event({ text: "Reamer R-3 fitted", instead: { event: first.id, reason: "read the label again" } });
    for (let time = 0; time < 2; time += 1) expect(await send(token, second)).toMatchObject({ status: 200 });
    expect(await onAxis()).toEqual(["Reamer R-3 fitted"]);
    expect((await listEvents(await plant.as("engineer"), { line: "L1" })).events).toMatchObject([
      { by: null, line: "L1" },
      { by: null, line: "L1" },
    ]);
  });

  it("refuses another line in the place of an event, and one that is not there", async () => {
    const token = await tokenFor("events:write");
    await createLine(plant.system, { key: "L2", name: "line 2" });
    const wrong = event({ line: "L1" });
    await send(token, wrong);
    const instead = { event: wrong.id, reason: "the label" };
    expect(await send(token, event({ line: "L2", instead }))).toMatchObject({
      status: 400,
      body: { detail: expect.stringContaining("not of line L2") },
    });
    expect(await send(token, event({ line: "L9", instead }))).toMatchObject({ status: 404 });
    expect(await onAxis()).toEqual([wrong.text]);
    expect(await send(token, event({ line: "L1", text: "R-3 fitted", instead }))).toMatchObject({ status: 200 });
    expect(await onAxis()).toEqual(["R-3 fitted"]);
  });

  it("refuses in words, and enters nothing", async () => {
    const token = await tokenFor("events:write");
    expect(await send(await tokenFor("results:read"), event())).toMatchObject({ status: 403 });
    expect(await send(token, event({ line: "L9" }))).toMatchObject({
      status: 404,
      body: { detail: expect.stringContaining("L9") },
    });
    for (const bad of [{ at: "2027-01-01T00:00:00Z" }, { at: "1999-01-01T00:00:00Z" }, { kind: "tea" }, { text: " " }])
      expect(await send(token, event(bad))).toMatchObject({ status: 400 });
    const sent = event();
    await send(token, sent);
    expect(await send(token, { ...sent, text: "something else" })).toMatchObject({ status: 409 });
    expect(await onAxis()).toEqual([sent.text]);
  });
});

it("shows a moment by the plant's clock as it was entered, also in the hour that comes twice", () => {
  for (const zone of ["Europe/Prague", "America/New_York", "Asia/Kathmandu", "UTC"])
    for (const shown of ["2026-06-05T14:30:00", "2026-10-25T02:30:00", "2026-12-31T23:59:59"])
      expect(shownMoment(plantMoment(shown, zone), zone)).toBe(shown);
});
