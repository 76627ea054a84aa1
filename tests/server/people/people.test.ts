import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { createPlant, createSignIn, PASSWORD, setTestEnvironment } from "@/tests/server/auth/plant-fixture";
import type { PersonViewer, Viewer } from "@/lib/server/auth/viewer";
import { changeOwnPassword, changeRoles, createPerson, deactivatePerson } from "@/lib/server/people/commands";
import { listPeople } from "@/lib/server/people/queries";
import { createTestDatabase, type TestDatabase } from "@/tests/helpers/database";

let database: TestDatabase;
let system: Viewer;
let other: Viewer;
let boss: PersonViewer;
let engineer: PersonViewer;

beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
  system = await createPlant("people");
  other = await createPlant("elsewhere");
  boss = await createSignIn(system, "boss@plant.example", "administrator");
  engineer = await createSignIn(system, "engineer@plant.example", "engineer");
});
afterAll(() => database.drop());

const account = (email: string) => ({ email, password: PASSWORD });

describe("people of a plant", () => {
  it("are added with roles, with or without a sign-in", async () => {
    const ines = await createPerson(boss, {
      name: " Ines ",
      roles: ["inspector", "inspector", "dock"],
      badgeCode: "B-17",
      account: account("INES@plant.example"),
    });
    const badgeOnly = await createPerson(boss, { name: "Tavin", roles: ["inspector"], badgeCode: "B-18" });
    const listed = await listPeople(boss);
    expect(listed.find(({ personId }) => personId === ines.personId)).toEqual({
      personId: ines.personId,
      name: "Ines",
      email: "ines@plant.example",
      badgeCode: "B-17",
      active: true,
      roles: ["inspector", "dock"],
    });
    expect(listed.find(({ personId }) => personId === badgeOnly.personId)).toMatchObject({ email: null });
  });

  it("are not added twice: e-mail and badge belong to one, and nothing is left behind", async () => {
    const again = { name: "Again", roles: ["dock"] as ["dock"] };
    await createPerson(boss, { ...again, badgeCode: "B-20", account: account("one@plant.example") });
    const before = await database.pool.query("select count(*) from auth_user");
    const sameEmail = createPerson(boss, { ...again, account: account("one@plant.example") });
    await expect(sameEmail).rejects.toMatchObject({ code: "conflict", fields: [{ path: "email" }] });
    const sameBadge = createPerson(boss, { ...again, badgeCode: "B-20", account: account("two@plant.example") });
    await expect(sameBadge).rejects.toMatchObject({ code: "conflict", fields: [{ path: "badgeCode" }] });
    expect((await database.pool.query("select count(*) from auth_user")).rows).toEqual(before.rows);
  });

  it.each([
    ["no name", { name: " ", roles: ["dock"] }],
    ["no role", { name: "X", roles: [] }],
    ["an unknown role", { name: "X", roles: ["king"] }],
    ["a short password", { name: "X", roles: ["dock"], account: { email: "x@plant.example", password: "short" } }],
    [
      "the demo password",
      { name: "X", roles: ["dock"], account: { email: "x@plant.example", password: "fennimoor-demo" } },
    ],
    ["no e-mail", { name: "X", roles: ["dock"], account: { email: "x", password: PASSWORD } }],
    ["something else", { name: "X", roles: ["dock"], isBoss: true }],
  ])("are not added with %s", async (_, input) => {
    await expect(createPerson(boss, input as never)).rejects.toMatchObject({ code: "invalid-input" });
  });

  it("are managed by administrators of the own plant only", async () => {
    const target = { personId: engineer.personId };
    await expect(createPerson(engineer, { name: "X", roles: ["dock"] })).rejects.toMatchObject({ code: "forbidden" });
    await expect(listPeople(engineer)).rejects.toMatchObject({ code: "forbidden" });
    await expect(changeRoles(engineer, { ...target, roles: ["administrator"] })).rejects.toMatchObject({
      code: "forbidden",
    });
    await expect(deactivatePerson(engineer, target)).rejects.toMatchObject({ code: "forbidden" });
    await expect(changeRoles(other, { ...target, roles: ["dock"] })).rejects.toMatchObject({ code: "not-found" });
    await expect(deactivatePerson(other, target)).rejects.toMatchObject({ code: "not-found" });
    expect(await listPeople(other)).toEqual([]);
  });

  it("always have an administrator who can sign in", async () => {
    await createPerson(boss, { name: "Badge only", roles: ["administrator"], badgeCode: "B-30" });
    const self = { personId: boss.personId };
    await expect(changeRoles(boss, { ...self, roles: ["engineer"] })).rejects.toMatchObject({ code: "refused" });
    await expect(deactivatePerson(boss, self)).rejects.toMatchObject({ code: "refused" });
  });

  it("keep an administrator when two take each other's role away at one time", async () => {
    const second = await createSignIn(system, "second@plant.example", "administrator");
    const results = await Promise.allSettled([
      changeRoles(boss, { personId: second.personId, roles: ["dock"] }),
      changeRoles(second, { personId: boss.personId, roles: ["dock"] }),
    ]);
    expect(results.map(({ status }) => status).sort()).toEqual(["fulfilled", "rejected"]);
    const { rows } = await database.pool.query(
      `select 1 from person_role r join person p on p.id = r.person_id
       where r.role = 'administrator' and p.active and p.user_id is not null and r.plant_id = $1`,
      [system.plantId],
    );
    expect(rows).toHaveLength(1);
    await changeRoles(system, { personId: boss.personId, roles: ["administrator"] });
  });

  it("stand in the journal with who did it, and without password or e-mail", async () => {
    const { personId } = await createPerson(boss, {
      name: "Lo",
      roles: ["dock"],
      account: account("lo@plant.example"),
    });
    await changeRoles(boss, { personId, roles: ["auditor"] });
    const lo = {
      kind: "person",
      plantId: boss.plantId,
      plantZone: "UTC",
      personId,
      name: "Lo",
      roles: ["auditor"],
    } as const;
    await changeOwnPassword(lo, { currentPassword: PASSWORD, newPassword: "another-long-password" });
    await deactivatePerson(boss, { personId });
    await expect(deactivatePerson(boss, { personId })).rejects.toMatchObject({ code: "conflict" });
    const { rows } = await database.pool.query(
      "select chain, actor, action, payload from journal_entry where payload ->> 'personId' = $1 order by sequence",
      [personId],
    );
    expect(rows.map(({ action }) => action)).toEqual([
      "person.created",
      "person.roles-changed",
      "person.password-changed",
      "person.deactivated",
    ]);
    expect(rows[1]).toMatchObject({
      chain: "people",
      actor: `person:${boss.personId}`,
      payload: { before: ["dock"], after: ["auditor"] },
    });
    expect(JSON.stringify(rows)).not.toMatch(/plant\.example|password"|another-long/);
  });
});
