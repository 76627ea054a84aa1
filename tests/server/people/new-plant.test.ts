import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { signIn } from "@/lib/server/auth/sign-in";
import { viewerFromHeaders } from "@/lib/server/auth/session";
import { createSetUpLink, isOpenSetUpLink, setUpPlant } from "@/lib/server/people/new-plant";
import { createTestDatabase, type TestDatabase } from "@/tests/helpers/database";
import { cookieHeader, ORIGIN, PASSWORD, setTestEnvironment } from "@/tests/server/auth/plant-fixture";

let database: TestDatabase;
const input = (token: string) => ({
  token,
  plantName: "Øst Rammer & Söhne",
  timeZone: "Europe/Copenhagen",
  name: "Asta",
  email: "asta@plant.example",
  password: PASSWORD,
});

async function newToken(): Promise<string> {
  const link = await createSetUpLink(ORIGIN);
  return new URL(link ?? "none:").pathname.split("/")[2] ?? "";
}

beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
});
afterAll(() => database.drop());

describe("the set-up link of an empty database", () => {
  it("is stored as a hash only", async () => {
    const token = await newToken();
    expect(token).toMatch(/^[A-Za-z0-9_-]{43}$/);
    const { rows } = await database.pool.query("select l::text as row from setup_link l");
    expect(rows).toHaveLength(1);
    expect(rows[0].row).not.toContain(token);
  });

  it("stops working when a newer one is made, and after a day", async () => {
    const first = await newToken();
    expect(await isOpenSetUpLink(first)).toBe(true);
    const second = await newToken();
    expect([await isOpenSetUpLink(first), await isOpenSetUpLink(second)]).toEqual([false, true]);
    await database.pool.query("update setup_link set expires_at = now() - interval '1 s'");
    expect(await isOpenSetUpLink(second)).toBe(false);
    await expect(setUpPlant(input(second))).rejects.toMatchObject({ code: "refused" });
    await expect(setUpPlant(input("A".repeat(43)))).rejects.toMatchObject({ code: "refused" });
    expect((await database.pool.query("select 1 from plant")).rows).toHaveLength(0);
  });

  it("lasts a day", async () => {
    await newToken();
    const { rows } = await database.pool.query(
      "select extract(epoch from expires_at - created_at)::float8 / 3600 as hours from setup_link",
    );
    expect(Math.round(rows[0].hours)).toBe(24);
  });

  it("is not used up by input that is refused", async () => {
    const token = await newToken();
    for (const bad of [{ timeZone: "Mars/Olympus" }, { password: "short" }, { plantName: "" }, { email: "asta" }]) {
      await expect(setUpPlant({ ...input(token), ...bad })).rejects.toMatchObject({ code: "invalid-input" });
    }
    expect(await isOpenSetUpLink(token)).toBe(true);
  });

  it("makes one plant and its first administrator, once, though it is opened twice at one time", async () => {
    const token = await newToken();
    const results = await Promise.allSettled([
      setUpPlant(input(token)),
      setUpPlant({ ...input(token), email: "second@plant.example" }),
    ]);
    expect(results.map(({ status }) => status).sort()).toEqual(["fulfilled", "rejected"]);
    expect(results.find(({ status }) => status === "rejected")).toMatchObject({ reason: { code: "refused" } });
    const { rows } = await database.pool.query("select key, name, time_zone, invented from plant");
    expect(rows).toEqual([
      { key: "st-rammer-sohne", name: input("").plantName, time_zone: "Europe/Copenhagen", invented: false },
    ]);
    expect(await isOpenSetUpLink(token)).toBe(false);
    expect(await createSetUpLink(ORIGIN)).toBeNull();
    const journal = await database.pool.query("select actor, action from journal_entry");
    expect(journal.rows).toEqual([{ actor: "system", action: "plant.set-up" }]);
  });

  it("leaves an administrator who can sign in", async () => {
    const { rows } = await database.pool.query("select email from auth_user");
    const cookie = cookieHeader(await signIn({ email: rows[0].email, password: PASSWORD }, new Headers()));
    expect(await viewerFromHeaders(new Headers({ cookie }))).toMatchObject({
      kind: "person",
      name: "Asta",
      roles: ["engineer", "administrator"],
    });
  });
});
