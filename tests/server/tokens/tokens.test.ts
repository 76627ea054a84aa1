import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { createPlant, createSignIn, setTestEnvironment } from "@/tests/server/auth/plant-fixture";
import type { PersonViewer, Viewer } from "@/lib/server/auth/viewer";
import { createToken, revokeToken } from "@/lib/server/tokens/commands";
import { findTokenViewer, forgetTokens } from "@/lib/server/auth/find-token-viewer";
import { listTokens } from "@/lib/server/tokens/queries";
import { createTestDatabase, type TestDatabase } from "@/tests/helpers/database";

let database: TestDatabase;
let system: Viewer;
let other: Viewer;
let boss: PersonViewer;
let engineer: PersonViewer;

beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
  system = await createPlant("tokens");
  other = await createPlant("other");
  boss = await createSignIn(system, "boss@plant.example", "administrator");
  engineer = await createSignIn(system, "engineer@plant.example", "engineer");
});
afterAll(() => database.drop());

describe("an API token", () => {
  it("is shown once, stored as a hash, and opens what its scopes say", async () => {
    const { token, tokenId } = await createToken(boss, {
      name: "rig 3",
      scopes: ["gate:ship", "gate:ship", "gate:read"],
    });
    expect(token).toMatch(/^sg_[A-Za-z0-9_-]{43}$/);
    expect(await findTokenViewer(token)).toEqual({
      kind: "token",
      plantId: boss.plantId,
      plantZone: boss.plantZone,
      tokenId,
      name: "rig 3",
      scopes: ["gate:ship", "gate:read"],
    });
    const { rows } = await database.pool.query(
      "select t::text as row from api_token t union all select j::text from journal_entry j",
    );
    for (const { row } of rows) expect(row).not.toContain(token);
    const [listed] = await listTokens(boss);
    expect(listed).toMatchObject({ tokenId, prefix: token.slice(0, 8), revokedAt: null });
    expect(JSON.stringify(listed)).not.toContain(token.slice(0, 12));
  });

  it("does not open with one character changed", async () => {
    const { token } = await createToken(boss, { name: "near", scopes: ["gate:read"] });
    const last = token.at(-2) === "A" ? "B" : "A";
    expect(await findTokenViewer(token.slice(0, -2) + last + token.at(-1))).toBeNull();
    expect(await findTokenViewer(`${token}x`)).toBeNull();
    expect(await findTokenViewer(token.slice(3))).toBeNull();
  });

  it("is out at once where it was revoked, and within five seconds elsewhere", async () => {
    const { token, tokenId } = await createToken(boss, { name: "revoked", scopes: ["gate:read"] });
    const now = Date.now();
    expect(await findTokenViewer(token, now)).not.toBeNull();
    // As another process would see it: revoked in the database only.
    await database.pool.query("update api_token set revoked_at = now() where id = $1", [tokenId]);
    expect(await findTokenViewer(token, now + 3_900)).not.toBeNull();
    expect(await findTokenViewer(token, now + 5_000)).toBeNull();
    await database.pool.query("update api_token set revoked_at = null where id = $1", [tokenId]);
    expect(await findTokenViewer(token, now)).not.toBeNull();
    await revokeToken(boss, { tokenId });
    expect(await findTokenViewer(token, now)).toBeNull();
    await expect(revokeToken(boss, { tokenId })).rejects.toMatchObject({ code: "conflict" });
  });

  it("ends at its hour, even while it is remembered", async () => {
    const expiresAt = new Date(Date.now() + 2_000).toISOString();
    const { token } = await createToken(boss, { name: "short", scopes: ["gate:read"], expiresAt });
    expect(await findTokenViewer(token)).not.toBeNull();
    expect(await findTokenViewer(token, Date.parse(expiresAt))).toBeNull();
    await database.pool.query("update api_token set expires_at = now() - interval '1 s' where name = 'short'");
    forgetTokens();
    expect(await findTokenViewer(token)).toBeNull();
    const past = new Date(Date.now() - 1000).toISOString();
    await expect(createToken(boss, { name: "past", scopes: ["gate:read"], expiresAt: past })).rejects.toMatchObject({
      code: "invalid-input",
    });
  });

  it("says when it was last used, written once a minute at most", async () => {
    const { token, tokenId } = await createToken(boss, { name: "used", scopes: ["results:read"] });
    const lastUsed = async () => (await listTokens(boss)).find((listed) => listed.tokenId === tokenId)?.lastUsedAt;
    expect(await lastUsed()).toBeNull();
    await findTokenViewer(token);
    const first = await lastUsed();
    expect(first).toBeInstanceOf(Date);
    forgetTokens();
    await findTokenViewer(token);
    expect(await lastUsed()).toEqual(first);
    await database.pool.query("update api_token set last_used_at = now() - interval '61 s' where id = $1", [tokenId]);
    forgetTokens();
    await findTokenViewer(token);
    expect((await lastUsed())?.getTime()).toBeGreaterThanOrEqual(first?.getTime() ?? Infinity);
  });

  it("is read from the database once by many requests at one time", async () => {
    const { token } = await createToken(boss, { name: "busy", scopes: ["readings:write"] });
    forgetTokens();
    const asked = Array.from({ length: 50 }, () => findTokenViewer(token));
    expect(new Set(await Promise.all(asked)).size).toBe(1);
  });

  it("is an administrator's matter, of the own plant, and stands in the journal", async () => {
    await expect(createToken(engineer, { name: "x", scopes: ["gate:read"] })).rejects.toMatchObject({
      code: "forbidden",
    });
    await expect(listTokens(engineer)).rejects.toMatchObject({ code: "forbidden" });
    const { tokenId } = await createToken(boss, { name: "mine", scopes: ["gate:read"] });
    await expect(revokeToken(engineer, { tokenId })).rejects.toMatchObject({ code: "forbidden" });
    await expect(revokeToken(other, { tokenId })).rejects.toMatchObject({ code: "not-found" });
    expect(await listTokens(other)).toEqual([]);
    await revokeToken(boss, { tokenId });
    const { rows } = await database.pool.query(
      "select actor, action from journal_entry where payload ->> 'tokenId' = $1 order by sequence",
      [tokenId],
    );
    const actor = `person:${boss.personId}`;
    expect(rows).toEqual([
      { actor, action: "token.created" },
      { actor, action: "token.revoked" },
    ]);
  });

  it("needs a name and known scopes", async () => {
    for (const bad of [
      { name: " ", scopes: ["gate:read"] },
      { name: "x", scopes: [] },
      { name: "x", scopes: ["all"] },
    ]) {
      await expect(createToken(boss, bad as never)).rejects.toMatchObject({ code: "invalid-input" });
    }
  });
});
