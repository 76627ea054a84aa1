import { afterAll, beforeAll, beforeEach, describe, expect, it } from "vitest";
import type { Role } from "@/lib/schemas/people";
import type { PersonViewer, Viewer } from "@/lib/server/auth/viewer";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import { changeRoles, deactivatePerson, setPassword } from "@/lib/server/people/commands";
import { decideRoleRequest, listRoleRequests } from "@/lib/server/people/role-requests";
import { createPlant, createSignIn, PASSWORD, setTestEnvironment } from "../auth/plant-fixture";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";

let database: TestDatabase;
let system: Viewer;
let boss: PersonViewer;
let number = 0;

beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
});
afterAll(() => database.drop());
beforeEach(async () => {
  number += 1;
  system = await createPlant(`roles-${number}`);
  boss = await administrator("boss");
});

const administrator = (name: string) => createSignIn(system, `${name}-${number}@plant.example`, "administrator");
const rolesOf = async ({ personId }: PersonViewer): Promise<Role[]> => {
  const { rows } = await database.pool.query<{ role: Role }>(
    "select role::text as role from person_role where person_id = $1 order by person_role.role",
    [personId],
  );
  return rows.map(({ role }) => role);
};
const WANTED: Role[] = ["engineer", "administrator"];
const own = (password?: string, roles = WANTED) =>
  changeRoles(boss, { personId: boss.personId, roles, ...(password === undefined ? {} : { password }) });
const request = async () => {
  const [found] = await listRoleRequests(boss);
  if (!found) throw new Error("no request stands");
  return found;
};
const decide = async (viewer: PersonViewer, decision: "confirm" | "refuse", password = PASSWORD) =>
  decideRoleRequest(viewer, { id: (await request()).id, decision, password });

describe("an administrator's own roles", () => {
  it("are changed with the password only", async () => {
    await expect(own()).rejects.toMatchObject({ code: "sign-in-refused", fields: [{ path: "password" }] });
    await expect(own("not-my-password")).rejects.toMatchObject({ code: "sign-in-refused" });
    expect(await rolesOf(boss)).toEqual(["administrator"]);
    expect(await own(PASSWORD)).toBe("changed");
    expect(await rolesOf(boss)).toEqual(WANTED);
  });

  it("wait for another administrator where there is one, who signs with a password", async () => {
    const second = await administrator("second");
    expect(await own(PASSWORD)).toBe("asked");
    expect(await rolesOf(boss)).toEqual(["administrator"]);
    expect(await request()).toMatchObject({ personId: boss.personId, before: ["administrator"], roles: WANTED });
    await expect(decide(boss, "confirm")).rejects.toMatchObject({ code: "refused" });
    await expect(decide(second, "confirm", "wrong-wrong-wrong")).rejects.toMatchObject({ code: "sign-in-refused" });
    const engineer = await createSignIn(system, `eng-${number}@plant.example`, "engineer");
    await expect(decide(engineer, "confirm")).rejects.toMatchObject({ code: "forbidden" });
    await decide(second, "confirm");
    expect(await rolesOf(boss)).toEqual(WANTED);
    expect(await listRoleRequests(boss)).toEqual([]);
    const { rows } = await database.pool.query(
      "select action, actor from journal_entry where plant_id = $1 and action like 'person.roles%' order by sequence",
      [system.plantId],
    );
    expect(rows).toEqual([
      { action: "person.roles-asked", actor: `person:${boss.personId}` },
      { action: "person.roles-changed", actor: `person:${second.personId}` },
    ]);
    expect((await verifyJournal(system.plantId)).faults).toEqual([]);
  });

  it("stay where the other one refuses, where it is taken back, and where others changed them meanwhile", async () => {
    const second = await administrator("second");
    await own(PASSWORD);
    await decide(second, "refuse");
    await own(PASSWORD);
    await decide(boss, "refuse");
    await own(PASSWORD);
    const { id } = await request();
    await changeRoles(second, { personId: boss.personId, roles: ["administrator", "auditor"] });
    await expect(decideRoleRequest(second, { id, decision: "confirm", password: PASSWORD })).rejects.toMatchObject({
      code: "not-found",
    });
    expect(await rolesOf(boss)).toEqual(["auditor", "administrator"]);
  });

  it("are not confirmed by an administrator whom the same hand has just made, or whose password it has set", async () => {
    const made = await createSignIn(boss, `made-${number}@plant.example`, "administrator");
    await own(PASSWORD);
    await expect(decide(made, "confirm")).rejects.toMatchObject({
      code: "refused",
      userMessage: expect.stringMatching(/within the last 24 hours/),
    });
    const second = await administrator("second");
    await setPassword(boss, { personId: second.personId, newPassword: "known-to-the-boss" });
    await expect(decide(second, "confirm", "known-to-the-boss")).rejects.toMatchObject({ code: "refused" });
    expect(await rolesOf(boss)).toEqual(["administrator"]);
  });

  it("are not changed alone by who has just taken the others away", async () => {
    const second = await administrator("second");
    await deactivatePerson(boss, { personId: second.personId });
    await expect(own(PASSWORD)).rejects.toMatchObject({ code: "refused" });
    const third = await administrator("third");
    await changeRoles(boss, { personId: third.personId, roles: ["auditor"] });
    await expect(own(PASSWORD)).rejects.toMatchObject({ code: "refused" });
    expect(await rolesOf(boss)).toEqual(["administrator"]);
  });
});
