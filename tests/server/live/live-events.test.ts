import { afterAll, beforeAll, beforeEach, describe, expect, it, vi } from "vitest";
import { GET } from "@/app/api/v1/live/route";
import { recordInspection } from "@/lib/server/inspections/record-inspections";
import { liveEvents } from "@/lib/server/live/event-stream";
import { log } from "@/lib/server/base/log";
import { signIn, signOut } from "@/lib/server/auth/sign-in";
import { changeRoles, deactivatePerson } from "@/lib/server/people/commands";
import { uuidV7 } from "@/lib/schemas/identifier";
import { createToken, revokeToken } from "@/lib/server/tokens/commands";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { quietTime } from "../../helpers/machine-time";
import { createTestPlant, type TestPlant } from "../../helpers/plant";
import { cookieHeader, createSignIn, PASSWORD, setTestEnvironment } from "../auth/plant-fixture";

let database: TestDatabase;
let plant: TestPlant;
beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
});
afterAll(async () => database.drop());
beforeEach(async () => {
  plant = await createTestPlant({ frames: 6 });
});

const listeners = (): number =>
  (globalThis as { shellgateLive?: { listeners: Set<unknown> } }).shellgateLive?.listeners.size ?? 0;
const listening = async (): Promise<number> =>
  (
    await database.pool.query(
      "select pid from pg_stat_activity where application_name = 'shellgate live' and datname = current_database() and query like 'listen%'",
    )
  ).rows.length;

/** Reads events until one matches; gives the lines that it names. */
function reader(response: Response) {
  const body = response.body?.getReader() as ReadableStreamDefaultReader<Uint8Array>;
  let text = "";
  const next = async (): Promise<string[]> => {
    for (;;) {
      const found = /event: changed\ndata: (.*)\n\n/.exec(text);
      if (found) {
        text = text.slice(found.index + found[0].length);
        return (JSON.parse(found[1] ?? "{}") as { lines: string[] }).lines;
      }
      const { done, value } = await body.read();
      if (done) throw new Error("the stream ended");
      text += Buffer.from(value).toString("utf8");
    }
  };
  return { next, cancel: () => body.cancel() };
}
const open = async (roles: "engineer" | "dock" = "engineer") => {
  const controller = new AbortController();
  const viewer = await plant.as(roles);
  return { viewer, controller, events: reader(liveEvents(viewer, controller.signal)) };
};

describe("live events", () => {
  it("tell what was measured within a second, and nothing of another plant", async () => {
    const { events, controller } = await open();
    expect(await events.next()).toEqual(["*"]);
    await vi.waitFor(async () => expect(await listening()).toBe(1), 10_000);
    const other = await createTestPlant({ frames: 1 });
    await recordInspection(other.system, other.inspection("T-0001"));
    const told = await quietTime(async () => {
      await recordInspection(plant.system, plant.inspection("T-0001"));
      return events.next();
    });
    expect(told.value).toHaveLength(1);
    expect(told.value).not.toContain("*");
    expect(told.ms).toBeLessThan(1000);
    controller.abort();
  });

  it("leave no listener and no connection behind, however a client goes", async () => {
    const before = listeners();
    const clients = await Promise.all(Array.from({ length: 12 }, () => open()));
    expect(listeners()).toBe(before + 12);
    await vi.waitFor(async () => expect(await listening()).toBe(1), 10_000);
    for (const [index, { controller, events }] of clients.entries()) {
      if (index % 3 === 0) controller.abort();
      else if (index % 3 === 1) await events.cancel();
      else {
        await events.cancel();
        controller.abort();
      }
    }
    const gone = new AbortController();
    gone.abort();
    liveEvents(await plant.as("engineer"), gone.signal);
    expect(listeners()).toBe(before);
    await vi.waitFor(async () => expect(await listening()).toBe(0), 10_000);
  });

  it("begin again with everything when the database's connection was lost and is back", async () => {
    const warned = vi.spyOn(log, "warn").mockImplementation(() => undefined);
    const { events, controller } = await open();
    expect(await events.next()).toEqual(["*"]);
    await vi.waitFor(async () => expect(await listening()).toBe(1), 10_000);
    await database.pool.query(
      "select pg_terminate_backend(pid) from pg_stat_activity where application_name = 'shellgate live' and datname = current_database()",
    );
    await recordInspection(plant.system, plant.inspection("T-0002"));
    expect(await events.next()).toEqual(["*"]);
    await recordInspection(plant.system, plant.inspection("T-0003"));
    expect((await events.next()).length).toBe(1);
    expect(warned).toHaveBeenCalled();
    controller.abort();
    warned.mockRestore();
  });

  it("outlive a notice that is no message", async () => {
    const { events, controller } = await open();
    expect(await events.next()).toEqual(["*"]);
    await vi.waitFor(async () => expect(await listening()).toBe(1), 10_000);
    await database.pool.query("notify shellgate_live, 'not json'");
    await database.pool.query("notify shellgate_live");
    await recordInspection(plant.system, plant.inspection("T-0004"));
    expect((await events.next()).length).toBe(1);
    controller.abort();
  });

  it("end within seconds with the session, the person, the role or the token that opened them", async () => {
    const boss = await createSignIn(plant.system, `${uuidV7()}@plant.example`, "administrator");
    const cookieOf = async (mail: string) =>
      cookieHeader(await signIn({ email: mail, password: PASSWORD }, new Headers()));
    const openBy = async (headers: Record<string, string>) => {
      const request = new Request("http://localhost:3000/api/v1/live", { headers });
      const answer = await GET(request, { params: Promise.resolve({}) });
      expect(answer.status).toBe(200);
      const events = reader(answer);
      expect(await events.next()).toEqual(["*"]);
      let ended = false;
      const readOn = async () => {
        for (;;) await events.next();
      };
      void readOn().catch(() => (ended = true));
      return { hasEnded: () => ended, cancel: events.cancel };
    };
    const person = async () => {
      const email = `${uuidV7()}@plant.example`;
      const viewer = await createSignIn(plant.system, email, "engineer");
      const cookie = await cookieOf(email);
      return { viewer, cookie, stream: await openBy({ cookie }) };
    };
    const token = async () => {
      const made = await createToken(plant.system, { name: "screen", scopes: ["results:read"] });
      return { ...made, stream: await openBy({ authorization: `Bearer ${made.token}` }) };
    };
    const [leaves, fired, demoted, idle, stays] = [
      await person(),
      await person(),
      await person(),
      await person(),
      await person(),
    ];
    const [revoked, expired, kept] = [await token(), await token(), await token()];
    await signOut(new Headers({ cookie: leaves.cookie }));
    await deactivatePerson(boss, { personId: fired.viewer.personId });
    await changeRoles(boss, { personId: demoted.viewer.personId, roles: ["dock"] });
    await database.pool.query(
      "update auth_session set updated_at = now() - interval '1 day' where user_id = (select user_id from person where id = $1)",
      [idle.viewer.personId],
    );
    await revokeToken(plant.system, { tokenId: revoked.tokenId });
    await database.pool.query("update api_token set expires_at = now() where id = $1", [expired.tokenId]);
    await vi.waitFor(
      () => {
        for (const { stream } of [leaves, fired, demoted, idle, revoked, expired]) expect(stream.hasEnded()).toBe(true);
      },
      { timeout: 30_000, interval: 100 },
    );
    expect([stays.stream.hasEnded(), kept.stream.hasEnded()]).toEqual([false, false]);
    await Promise.all([stays.stream.cancel(), kept.stream.cancel()]);
  });

  it("are refused to who may not look at Drift, and to nobody", async () => {
    const dock = await plant.as("dock");
    expect(() => liveEvents(dock, new AbortController().signal)).toThrow(/may not look at Drift/);
    const ask = (token: string) =>
      GET(new Request("http://localhost:3000/api/v1/live", { headers: { authorization: `Bearer ${token}` } }), {
        params: Promise.resolve({}),
      });
    expect((await ask("sg_none")).status).toBe(401);
    const administrator = await plant.as("administrator");
    const { token } = await createToken(administrator, { name: "gauge", scopes: ["readings:write"] });
    expect((await ask(token)).status).toBe(403);
  });
});
