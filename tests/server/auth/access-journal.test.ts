import { afterAll, beforeAll, beforeEach, describe, expect, it, vi } from "vitest";
import { DEMO_PASSWORD } from "@/lib/schemas/demo-sign-ins";
import { journalSignInRefused } from "@/lib/server/auth/access-journal";
import { signIn, signOut } from "@/lib/server/auth/sign-in";
import { assertSigned } from "@/lib/server/auth/signature";
import type { PersonViewer, Viewer } from "@/lib/server/auth/viewer";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import { changeOwnPassword, deactivatePerson } from "@/lib/server/people/commands";
import { getJournal } from "@/lib/server/audit/journal-page";
import { createToken, revokeToken } from "@/lib/server/tokens/commands";
import { findTokenViewer, forgetTokens } from "@/lib/server/auth/find-token-viewer";
import { createTestDatabase, type TestDatabase } from "@/tests/helpers/database";
import { cookieHeader, createPlant, createSignIn, PASSWORD, setTestEnvironment } from "./plant-fixture";

let database: TestDatabase;
let system: Viewer & { kind: "system" };
let ines: PersonViewer;
let auditor: PersonViewer;
let number = 0;

beforeAll(async () => {
  setTestEnvironment();
  process.env.SHELLGATE_FORWARDED = "1";
  database = await createTestDatabase();
});
afterAll(() => database.drop());
beforeEach(async () => {
  number += 1;
  await database.pool.query("delete from auth_rate_limit");
  system = await createPlant(`access-${number}`);
  ines = await createSignIn(system, email(), "inspector");
  auditor = await createSignIn(system, `auditor-${number}@plant.example`, "auditor");
});

const email = (): string => `ines-${number}@plant.example`;
const FROM = new Headers({ "x-forwarded-for": "192.0.2.7" });
const enter = (password = PASSWORD, who = email()) => signIn({ email: who, password }, FROM);
const refusedWith = (code: string) => ({ code });

/** Entries of the chain "access", oldest first. */
async function entries(): Promise<{ actor: string; action: string; payload: unknown }[]> {
  const { newest } = await getJournal(auditor);
  return newest
    .filter((entry) => entry.chain === "access")
    .map(({ actor, action, payload }) => ({ actor, action, payload }))
    .reverse();
}
async function expectWholeJournal(): Promise<void> {
  expect((await verifyJournal(system.plantId)).faults).toEqual([]);
}

describe("the journal of who comes and goes", () => {
  it("holds a sign-in and a sign-out with the address", async () => {
    const cookie = cookieHeader(await enter());
    await signOut(new Headers({ cookie, "x-forwarded-for": "192.0.2.7" }));
    const by = { actor: ines.name, payload: { address: "192.0.2.7" } };
    expect(await entries()).toEqual([
      { ...by, action: "signed-in" },
      { ...by, action: "signed-out" },
    ]);
    await expectWholeJournal();
  });

  it("writes no sign-out where nobody was signed in", async () => {
    await signOut(FROM);
    expect(await entries()).toEqual([]);
  });

  it("holds a wrong password, and whose it would have been, but not who sits there", async () => {
    await expect(enter("wrong-wrong-wrong")).rejects.toMatchObject(refusedWith("sign-in-refused"));
    const payload = { address: "192.0.2.7", reason: "wrong password", personId: ines.personId };
    expect(await entries()).toEqual([{ actor: "visitor", action: "sign-in-refused", payload }]);
  });

  it("holds a try with an e-mail that nobody has, without the e-mail, in every plant", async () => {
    const other = await createPlant(`other-${number}`);
    await expect(enter(PASSWORD, "my-secret-word@plant.example")).rejects.toMatchObject(refusedWith("sign-in-refused"));
    const payload = { address: "192.0.2.7", reason: "no such sign-in", personId: null };
    expect(await entries()).toEqual([{ actor: "visitor", action: "sign-in-refused", payload }]);
    const { rows } = await database.pool.query(
      "select payload::text from journal_entry where chain = 'access' and plant_id in ($1, $2)",
      [system.plantId, other.plantId],
    );
    expect(rows).toHaveLength(2);
    expect(JSON.stringify(rows)).not.toContain("secret");
  });

  it("holds the try of somebody who was deactivated", async () => {
    await createSignIn(system, `boss-${number}@plant.example`, "administrator");
    await deactivatePerson(system, { personId: ines.personId });
    await expect(enter()).rejects.toMatchObject(refusedWith("sign-in-refused"));
    expect(await entries()).toMatchObject([{ payload: { reason: "deactivated", personId: ines.personId } }]);
  });

  it("holds the try of a demo sign-in from the network", async () => {
    await expect(enter(DEMO_PASSWORD)).rejects.toMatchObject(refusedWith("sign-in-refused"));
    expect(await entries()).toMatchObject([{ payload: { reason: "demo sign-in from the network" } }]);
  });

  it("says once that the brake came on", async () => {
    for (let n = 0; n < 14; n += 1) await enter("wrong-wrong-wrong").catch(() => null);
    const reasons = (await entries()).map((entry) => (entry.payload as { reason: string }).reason);
    expect(reasons).toEqual([...Array<string>(10).fill("wrong password"), "too many tries"]);
  });

  it("is filled by nobody from outside: beyond thirty refusals an hour they are counted, and the count is written later", async () => {
    const guess = (who: string) => journalSignInRefused(who, "198.51.100.9", null);
    const count = async () => {
      const { rows } = await database.pool.query(
        "select count(*)::int as n from journal_entry where chain = 'access' and plant_id = $1",
        [system.plantId],
      );
      return rows[0].n as number;
    };
    for (let each = 0; each < 45; each += 1) await guess(email());
    expect(await count()).toBe(30);
    for (let each = 0; each < 40; each += 1) await guess(`nobody-${each}@plant.example`);
    expect(await count()).toBe(60);
    // The right password is written whatever was tried before.
    await enter();
    expect(await count()).toBe(61);
    await database.pool.query("update auth_rate_limit set last_request = last_request - 3700000");
    vi.useFakeTimers({ toFake: ["Date"], now: Date.now() + 120_000 });
    await guess(email());
    vi.useRealTimers();
    const { rows } = await database.pool.query(
      "select payload from journal_entry where chain = 'access' and plant_id = $1 and payload ->> 'reason' = 'many more' order by payload -> 'unwritten'",
      [system.plantId],
    );
    expect(rows.map(({ payload }) => payload)).toEqual([
      { reason: "many more", unwritten: 10, personId: null },
      { reason: "many more", unwritten: 15, personId: ines.personId },
    ]);
    await expectWholeJournal();
  });

  it("makes no session that it does not know", async () => {
    await database.owner.query("alter table journal_entry rename to journal_entry_away");
    try {
      await expect(enter()).rejects.toThrow();
    } finally {
      await database.owner.query("alter table journal_entry_away rename to journal_entry");
    }
    const { rows } = await database.pool.query(
      "select 1 from auth_session s join auth_user u on u.id = s.user_id where u.email = $1",
      [email()],
    );
    expect(rows).toEqual([]);
  });

  it("holds a wrong signature, and brakes whoever guesses at a screen left open", async () => {
    await expect(assertSigned(ines, "not-my-password")).rejects.toMatchObject(refusedWith("sign-in-refused"));
    expect(await assertSigned(ines, PASSWORD)).toBe(ines);
    for (let n = 0; n < 10; n += 1) await assertSigned(ines, "not-my-password").catch(() => null);
    await expect(assertSigned(ines, PASSWORD)).rejects.toMatchObject(refusedWith("too-many-requests"));
    await expect(assertSigned(ines, PASSWORD)).rejects.toMatchObject(refusedWith("too-many-requests"));
    const reasons = (await entries()).map(({ action, payload }) => [action, (payload as { reason: string }).reason]);
    expect(reasons).toEqual([
      ...Array<string[]>(11).fill(["signature-refused", "wrong password"]),
      ["signature-refused", "too many tries"],
    ]);
  });

  it("holds a change of the password, and a wrong one before it", async () => {
    const change = (currentPassword: string) =>
      changeOwnPassword(ines, { currentPassword, newPassword: "another-long-password" });
    await expect(change("not-my-password")).rejects.toMatchObject(refusedWith("sign-in-refused"));
    await change(PASSWORD);
    expect(await entries()).toMatchObject([{ actor: ines.name, action: "signature-refused" }]);
    const { newest } = await getJournal(auditor);
    expect(newest).toContainEqual(expect.objectContaining({ actor: ines.name, action: "person.password-changed" }));
  });

  it("holds a token's making, first use, end, and use after its end", async () => {
    const { tokenId, token } = await createToken(system, { name: "warehouse", scopes: ["gate:read"] });
    for (let n = 0; n < 3; n += 1) {
      forgetTokens();
      expect(await findTokenViewer(token)).toMatchObject({ tokenId });
    }
    await revokeToken(system, { tokenId });
    for (let n = 0; n < 3; n += 1) expect(await findTokenViewer(token)).toBeNull();
    expect(await entries()).toEqual([
      { actor: "warehouse", action: "token.first-used", payload: {} },
      { actor: "warehouse", action: "token.refused", payload: { reason: "revoked" } },
    ]);
    const actions = (await getJournal(auditor)).newest.map((entry) => entry.action);
    expect(actions).toEqual(expect.arrayContaining(["token.created", "token.revoked"]));
    await expectWholeJournal();
  });

  it("is searched by what an entry says, who made it and on which days", async () => {
    await enter();
    const found = async (wanted: Parameters<typeof getJournal>[1]) =>
      (await getJournal(auditor, wanted)).newest.map(({ chain, action }) => `${chain} ${action}`);
    expect(await found({ text: "Signed IN" })).toEqual(["access signed-in"]);
    expect(await found({ text: "192.0.2.7" })).toEqual(["access signed-in"]);
    expect(await found({ text: ines.name.toUpperCase(), chain: "access" })).toEqual(["access signed-in"]);
    expect(await found({ actor: `person:${ines.personId}` })).toEqual(["access signed-in"]);
    expect(await found({ text: "%" })).toEqual([]);
    const today = new Intl.DateTimeFormat("sv-SE", { timeZone: auditor.plantZone }).format();
    expect(await found({ from: today, to: today, chain: "access" })).toEqual(["access signed-in"]);
    expect(await found({ to: "2020-01-01" })).toEqual([]);
    expect(await found({ from: "9999-12-31" })).toEqual([]);
    const { actors } = await getJournal(auditor);
    expect(actors).toContainEqual({ actor: `person:${ines.personId}`, name: ines.name });
  });

  it("is shown by chain, page by page", async () => {
    for (let n = 0; n < 3; n += 1) await enter("wrong-wrong-wrong").catch(() => null);
    const first = await getJournal(auditor, { chain: "access", limit: 2 });
    expect(first.newest.map((entry) => entry.sequence)).toEqual(["3", "2"]);
    const second = await getJournal(auditor, { chain: "access", before: first.next ?? undefined, limit: 2 });
    expect(second.newest.map((entry) => entry.sequence)).toEqual(["1"]);
    expect(second.next).toBeNull();
    const { chains, newest } = await getJournal(auditor, { chain: "people" });
    expect(chains).toEqual([
      { chain: "access", length: 3 },
      { chain: "people", length: 2 },
    ]);
    expect(newest.map((entry) => entry.action)).toEqual(["person.created", "person.created"]);
    expect((await getJournal(auditor, { chain: "access" })).newest[0]?.about).toBe(ines.name);
  });
});
