import { describe, expect, it } from "vitest";
import { AppError } from "@/lib/errors";
import { ROLES, type Role } from "@/lib/schemas/people";
import { TOKEN_SCOPES, type TokenScope } from "@/lib/schemas/token";
import { ACTIONS, assertMay, assertPerson, mayDo, type Action } from "@/lib/server/auth/permissions";
import type { Viewer } from "@/lib/server/auth/viewer";

const plantId = "00000000-0000-7000-8000-000000000001";
const id = "00000000-0000-7000-8000-000000000002";
const person = (...roles: readonly Role[]): Viewer => ({
  kind: "person",
  plantId,
  plantZone: "UTC",
  personId: id,
  name: "Ada",
  roles,
});
const token = (...scopes: readonly TokenScope[]): Viewer => ({
  kind: "token",
  plantZone: "UTC",
  plantId,
  tokenId: id,
  name: "rig",
  scopes,
});
const system: Viewer = { kind: "system", plantId, plantZone: "UTC", name: "demo" };

// Written out by hand from the roles' jobs (README, who uses it): one row an action, one column a role.
// Columns: inspector, engineer, supplier_manager, dock, auditor, administrator | system. x = may.
const EXPECTED: Record<Action, string> = {
  "line.view": "x x x - x - x",
  "line.inspect": "x x - - - - x",
  "line.lease": "x x - - - - x",
  "line.withdraw": "- x - - - - x",
  "line.zero-check": "x x - - - - x",
  "line.release-first-off": "- x - - - - -",
  "line.manage-devices": "- x - - - - x",
  "drift.view": "x x x - x - x",
  "drift.approve-baseline": "- x - - - - -",
  "drift.add-event": "x x - - - - x",
  "drift.note-step": "x x - - - - x",
  "drift.manage-cases": "- x - - - - -",
  "drift.set-budget": "- x - - - - -",
  "gate.view": "x x x x x - x",
  "gate.decide": "- x x - - - -",
  "gate.concede": "- - x - - - -",
  "gate.ship": "- - - x - - x",
  "gate.enquire": "x x x x x - x",
  "gate.sampling": "x x x x x - x",
  "gate.set-sampling": "- x x - - - -",
  "returns.view": "- x x - x - x",
  "returns.manage": "- - x - - - x",
  "gauges.view": "x x x - x - x",
  "gauges.manage": "- x - - - - x",
  "records.view": "x x x x x - x",
  "records.export": "- x x - x - x",
  "setup.view": "x x x - x x x",
  "setup.draft": "- x - - - - x",
  "setup.release": "- x - - - - x",
  "people.view": "- - - - x x x",
  "people.manage": "- - - - - x x",
  "tokens.view": "- - - - x x x",
  "tokens.manage": "- - - - - x x",
  "journal.view": "- x x - x x x",
  "journal.verify": "- - - - x x x",
  "jobs.view": "- x - - x x x",
  "jobs.manage": "- - - - - x x",
  "backups.view": "- - - - x x x",
  "metrics.view": "- - - - x x x",
  "wall.view": "- - - - - - x",
  "backups.manage": "- - - - - x x",
  "messages.view": "x x x x x x x",
  "messages.acknowledge": "x x x x - x x",
  "sending.view": "- x - - x x x",
  "sending.manage": "- - - - - x x",
};

const SCOPES_EXPECTED: Record<TokenScope, readonly Action[]> = {
  "readings:write": ["line.inspect", "line.lease", "line.zero-check"],
  "gate:read": ["gate.view", "gate.enquire", "gate.sampling"],
  "gate:ship": ["gate.ship", "gate.enquire"],
  "events:write": ["drift.add-event"],
  "metrics:read": ["metrics.view"],
  "wall:view": ["wall.view"],
  "results:read": ["drift.view", "gate.sampling", "gauges.view", "records.view", "records.export"],
};

const viewers: readonly (readonly [string, Viewer])[] = [
  ...(["inspector", "engineer", "supplier_manager", "dock", "auditor", "administrator"] as const).map(
    (role) => [role, person(role)] as const,
  ),
  ["system", system],
];

function refusal(run: () => void): AppError | null {
  try {
    run();
    return null;
  } catch (error) {
    if (error instanceof AppError) return error;
    throw error;
  }
}

describe("what each role may do", () => {
  it("has a row for every action and a column for every role", () => {
    expect(Object.keys(EXPECTED).sort()).toEqual([...ACTIONS].sort());
    expect(viewers.slice(0, -1).map(([name]) => name)).toEqual([...ROLES]);
    for (const row of Object.values(EXPECTED)) expect(row).toMatch(/^[x-]( [x-]){6}$/);
  });

  const cells = ACTIONS.flatMap((action) =>
    viewers.map(([who, viewer], column) => ({ action, who, viewer, may: EXPECTED[action].split(" ")[column] === "x" })),
  );
  it.each(cells)("$who, $action: $may", ({ action, viewer, may }) => {
    expect(mayDo(viewer, action)).toBe(may);
    expect(refusal(() => assertMay(viewer, action))?.code ?? null).toBe(may ? null : "forbidden");
  });
});

describe("what each token scope may do", () => {
  const cells = ACTIONS.flatMap((action) => TOKEN_SCOPES.map((scope) => ({ action, scope })));
  it.each(cells)("$scope, $action", ({ action, scope }) => {
    expect(mayDo(token(scope), action)).toBe(SCOPES_EXPECTED[scope].includes(action));
  });
});

describe("several roles, and none", () => {
  it("lets a person do what any of the roles may", () => {
    expect(mayDo(person("dock", "engineer"), "gate.ship")).toBe(true);
    expect(mayDo(person("dock", "engineer"), "setup.release")).toBe(true);
    expect(mayDo(person("dock", "engineer"), "gate.concede")).toBe(false);
  });

  it("lets a person without a role and a token without a scope do nothing", () => {
    for (const action of ACTIONS) {
      expect(mayDo(person(), action)).toBe(false);
      expect(mayDo(token(), action)).toBe(false);
    }
  });

  it("does not know a role or scope of a newer version", () => {
    expect(mayDo(person("wizard" as Role), "gate.view")).toBe(false);
    expect(mayDo(token("all" as TokenScope), "gate.view")).toBe(false);
  });

  it("tells nobody-signed-in from may-not, and says who can help", () => {
    expect(refusal(() => assertMay(null, "gate.view"))?.code).toBe("not-signed-in");
    const told = refusal(() => assertMay(person("administrator"), "gate.decide"));
    expect(told?.userMessage).toBe(
      "Ada may not decide on held batches and frames. Nothing was changed. An administrator can give you a role that may.",
    );
  });

  it("lets only a person sign", () => {
    expect(refusal(() => assertPerson(person("dock")))).toBeNull();
    expect(refusal(() => assertPerson(token("gate:ship")))?.code).toBe("forbidden");
    expect(refusal(() => assertPerson(system))?.code).toBe("forbidden");
  });
});
