import "server-only";
import { AppError } from "../../errors";
import type { Role } from "../../schemas/people";
import type { TokenScope } from "../../schemas/token";
import type { Viewer } from "./viewer";
import { AUTH_WORDS } from "./words";

const words = AUTH_WORDS.permissions;

/** Everything that somebody can be allowed or refused. A new command adds its action here and a row to the test. */
export const ACTIONS = [
  "line.view",
  "line.inspect",
  "line.lease",
  "line.withdraw",
  "line.zero-check",
  "line.release-first-off",
  "line.manage-devices",
  "drift.view",
  "drift.approve-baseline",
  "drift.add-event",
  "drift.note-step",
  "drift.manage-cases",
  "drift.set-budget",
  "gate.view",
  "gate.decide",
  "gate.concede",
  "gate.ship",
  "gate.enquire",
  "gate.sampling",
  "gate.set-sampling",
  "returns.view",
  "returns.manage",
  "gauges.view",
  "gauges.manage",
  "records.view",
  "records.export",
  "setup.view",
  "setup.draft",
  "setup.release",
  "people.view",
  "people.manage",
  "tokens.view",
  "tokens.manage",
  "journal.view",
  "journal.verify",
  "jobs.view",
  "jobs.manage",
  "backups.view",
  "backups.manage",
  "metrics.view",
  "wall.view",
  "messages.view",
  "messages.acknowledge",
  "sending.view",
  "sending.manage",
] as const;
export type Action = (typeof ACTIONS)[number];

/**
 * What each role may do; a person with several roles may do what any of them may. Duties are kept apart: who makes the
 * frames does not concede them, who manages people does not release batches, who audits changes nothing.
 */
const OF_ROLE = {
  inspector: [
    "line.view",
    "line.inspect",
    "line.lease",
    "line.zero-check",
    "drift.view",
    "drift.add-event",
    "drift.note-step",
    "gate.view",
    "gate.enquire",
    "gate.sampling",
    "gauges.view",
    "records.view",
    "setup.view",
    "messages.view",
    "messages.acknowledge",
  ],
  engineer: [
    "line.view",
    "line.inspect",
    "line.lease",
    "line.withdraw",
    "line.zero-check",
    "line.release-first-off",
    "line.manage-devices",
    "drift.view",
    "drift.approve-baseline",
    "drift.add-event",
    "drift.note-step",
    "drift.manage-cases",
    "drift.set-budget",
    "gate.view",
    "gate.decide",
    "gate.enquire",
    "gate.sampling",
    "gate.set-sampling",
    "returns.view",
    "gauges.view",
    "gauges.manage",
    "records.view",
    "records.export",
    "setup.view",
    "setup.draft",
    "setup.release",
    "journal.view",
    "jobs.view",
    "messages.view",
    "messages.acknowledge",
    "sending.view",
  ],
  supplier_manager: [
    "line.view",
    "drift.view",
    "gate.view",
    "gate.decide",
    "gate.concede",
    "gate.enquire",
    "gate.sampling",
    "gate.set-sampling",
    "returns.view",
    "returns.manage",
    "gauges.view",
    "records.view",
    "records.export",
    "setup.view",
    "journal.view",
    "messages.view",
    "messages.acknowledge",
  ],
  dock: [
    "gate.view",
    "gate.ship",
    "gate.enquire",
    "gate.sampling",
    "records.view",
    "messages.view",
    "messages.acknowledge",
  ],
  auditor: [
    "line.view",
    "drift.view",
    "gate.view",
    "gate.enquire",
    "gate.sampling",
    "returns.view",
    "gauges.view",
    "records.view",
    "records.export",
    "setup.view",
    "people.view",
    "tokens.view",
    "journal.view",
    "journal.verify",
    "jobs.view",
    "backups.view",
    "metrics.view",
    "messages.view",
    "sending.view",
  ],
  administrator: [
    "setup.view",
    "people.view",
    "people.manage",
    "tokens.view",
    "tokens.manage",
    "journal.view",
    "journal.verify",
    "jobs.view",
    "jobs.manage",
    "backups.view",
    "backups.manage",
    "metrics.view",
    "messages.view",
    "messages.acknowledge",
    "sending.view",
    "sending.manage",
  ],
} as const satisfies Record<Role, readonly Action[]>;

const OF_SCOPE = {
  "readings:write": ["line.inspect", "line.lease", "line.zero-check"],
  "gate:read": ["gate.view", "gate.enquire", "gate.sampling"],
  "gate:ship": ["gate.enquire", "gate.ship"],
  "events:write": ["drift.add-event"],
  "metrics:read": ["metrics.view"],
  "wall:view": ["wall.view"],
  "results:read": ["drift.view", "gate.sampling", "gauges.view", "records.view", "records.export"],
} as const satisfies Record<TokenScope, readonly Action[]>;

/** What needs a person's name under it, so that Shellgate itself may not do it. */
const SIGNED: ReadonlySet<Action> = new Set([
  "line.release-first-off",
  "drift.approve-baseline",
  "drift.manage-cases",
  "drift.set-budget",
  "gate.decide",
  "gate.concede",
  "gate.set-sampling",
]);

function sets<K extends string>(table: Record<K, readonly Action[]>): ReadonlyMap<string, ReadonlySet<Action>> {
  return new Map(Object.entries<readonly Action[]>(table).map(([key, actions]) => [key, new Set(actions)]));
}

const roleActions = sets(OF_ROLE);
const scopeActions = sets(OF_SCOPE);

/** Whether whoever has the role may do it. */
export function mayByRole(role: Role, action: Action): boolean {
  return roleActions.get(role)?.has(action) ?? false;
}

/** Whether the viewer may do it. The plant is the query's matter: every `where` carries `viewer.plantId`. */
export function mayDo(viewer: Viewer, action: Action): boolean {
  switch (viewer.kind) {
    case "person":
      return viewer.roles.some((role) => mayByRole(role, action));
    case "token":
      return viewer.scopes.some((scope) => scopeActions.get(scope)?.has(action) ?? false);
    case "system":
      return !SIGNED.has(action);
  }
}

/** What each action is called in a refusal: "may not ...". */
const IN_WORDS = {
  "line.view": "look at Line",
  "line.inspect": "record inspections",
  "line.lease": "start or give up the measuring of a frame",
  "line.withdraw": "withdraw inspections",
  "line.zero-check": "record zero checks",
  "line.release-first-off": "release the first frame of a shift",
  "line.manage-devices": "take devices out of use or put them back",
  "drift.view": "look at Drift",
  "drift.approve-baseline": "approve limits",
  "drift.add-event": "record events",
  "drift.note-step": "note steps of cases",
  "drift.manage-cases": "assign, explain and close cases",
  "drift.set-budget": "set how many false cases the plant bears",
  "gate.view": "look at Gate",
  "gate.decide": "decide on held batches and frames",
  "gate.concede": "grant concessions",
  "gate.ship": "ship frames",
  "gate.enquire": "ask the gate about a frame",
  "gate.sampling": "ask for sampling plans",
  "gate.set-sampling": "set how batches are sampled",
  "returns.view": "look at Returns",
  "returns.manage": "make and change returns",
  "gauges.view": "look at Gauges",
  "gauges.manage": "change gauges and calibrations",
  "records.view": "look at frame records",
  "records.export": "export records",
  "setup.view": "look at Setup",
  "setup.draft": "draft drawings and measuring plans",
  "setup.release": "release drawings and measuring plans",
  "people.view": "look at people and their roles",
  "people.manage": "manage people and their roles",
  "tokens.view": "look at API tokens",
  "tokens.manage": "manage API tokens",
  "journal.view": "look at the journal",
  "journal.verify": "verify the journal",
  "jobs.view": "look at jobs",
  "jobs.manage": "try jobs again or give them up",
  "backups.view": "look at backups and the installation",
  "metrics.view": "read metrics",
  "wall.view": "open the view for the wall",
  "backups.manage": "write backups and change when they are written",
  "messages.view": "look at messages",
  "messages.acknowledge": "acknowledge messages",
  "sending.view": "look at how messages are sent",
  "sending.manage": "change how messages are sent",
} as const satisfies Record<Action, string>;

const WHO_HELPS = {
  person: "An administrator can give you a role that may.",
  token: "Use a token with a scope that may.",
  system: "A person has to do it.",
} as const satisfies Record<Viewer["kind"], string>;

/** What changes nothing. */
const LOOKS = /\.(?:view|enquire|export|verify)$/;

/**
 * Refuses what the viewer may not do.
 * @throws AppError not-signed-in if there is no viewer; forbidden if there is one who may not; refused on a device out of use
 */
export function assertMay(viewer: Viewer | null, action: Action): asserts viewer is Viewer {
  if (viewer === null) throw new AppError("not-signed-in", words.signInFirst);
  if (viewer.kind === "person" && viewer.revokedDevice !== undefined && !LOOKS.test(action))
    throw new AppError("refused", words.deviceWasTakenOut, {
      details: { device: viewer.revokedDevice, revoked: true },
    });
  if (mayDo(viewer, action)) return;
  throw new AppError(
    "forbidden",
    words.mayNotNothingWasChanged(viewer.name, IN_WORDS[action], WHO_HELPS[viewer.kind]),
    { details: { action } },
  );
}

/**
 * The viewer as a person, for what has to carry a person's signature.
 * @throws AppError forbidden if a token or Shellgate itself asks
 */
export function assertPerson(viewer: Viewer): asserts viewer is Extract<Viewer, { kind: "person" }> {
  if (viewer.kind !== "person") {
    throw new AppError("forbidden", words.needsPersonWhoSigned);
  }
}
