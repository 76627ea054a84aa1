import "server-only";
import { CANONICAL_VERSION, canonicalColumns, textHash } from "./canonical-json";

/**
 * What the journal vouches for of rows that change: each entry of a transaction that wrote some of them has their hashes as
 * they were then, and the newest one counts. Column names by the expression that reads them; a hash covers all of them in
 * this order, so that a column added later needs a new name here, beside the old one.
 */
export const STATE_COLUMNS = {
  frame_state: {
    id: "r.id",
    serial: "r.serial",
    batch_id: "r.batch_id",
    position: "r.position",
    mould: "r.mould",
    // That somebody has a frame in hand is no evidence; it is written without an entry.
    state: "case when r.state = 'in_measurement' then 'unmeasured' else r.state::text end",
    verdict: "r.verdict",
    judgement: "r.judgement",
    inspections: "r.inspections",
    last_inspection_id: "r.last_inspection_id",
    measured_at: "r.measured_at",
    concession_until: "r.concession_until",
    evidence_from: "r.evidence_from",
    shipped_at: "r.shipped_at",
  },
  batch_state: {
    id: "r.id",
    key: "r.key",
    supplier_id: "r.supplier_id",
    model_id: "r.model_id",
    line_id: "r.line_id",
    plan_id: "r.plan_id",
    policy: "r.policy",
    opened_at: "r.opened_at",
    held_at: "r.held_at",
    released_at: "r.released_at",
  },
  setting_ring_state: {
    id: "r.id",
    key: "r.key",
    certified_size_mm: "r.certified_size_mm",
    uncertainty_um: "r.uncertainty_um",
    active: "r.active",
  },
  // Station and name say nothing of what it can prove.
  gauge_state: {
    id: "r.id",
    key: "r.key",
    kind: "r.kind",
    principle: "r.principle",
    resolution_um: "r.resolution_um",
    range_lower: "r.range_lower",
    range_upper: "r.range_upper",
    repeatability_um: "r.repeatability_um",
    ring_id: "r.ring_id",
    active: "r.active",
  },
  person_state: {
    id: "r.id",
    name: "r.name",
    badge_code: "r.badge_code",
    user_id: "r.user_id",
    active: "r.active",
    roles: `array(select pr.role::text from person_role pr where pr.plant_id = r.plant_id and pr.person_id = r.id
      order by pr.role::text collate "C")`,
  },
  drawing_revision_state: { id: "r.id", drawing_id: "r.drawing_id", revision: "r.revision", state: "r.state::text" },
  measuring_plan_revision_state: { id: "r.id", plan_id: "r.plan_id", revision: "r.revision", state: "r.state::text" },
} as const;

export type StateTable = keyof typeof STATE_COLUMNS;
export const STATE_TABLES = Object.keys(STATE_COLUMNS) as StateTable[];

/** The table whose rows they are. */
export const tableOf = (states: StateTable): string => states.slice(0, -"_state".length);

export const isStateTable = (name: string): name is StateTable => Object.hasOwn(STATE_COLUMNS, name);

/** The columns of a state as a select list, of a row named `r`. */
export const stateSelect = (states: StateTable): string =>
  Object.entries(STATE_COLUMNS[states])
    .map(([name, expression]) => `${expression} as "${name}"`)
    .join(", ");

/**
 * Hash of what a row is at the moment.
 *
 * @param row - by the names of STATE_COLUMNS, as the database gives it
 * @returns hexadecimal SHA-256
 */
export function stateHash(
  states: StateTable,
  row: Readonly<Record<string, unknown>>,
  version: number = CANONICAL_VERSION,
): string {
  const columns = [states, ...Object.keys(STATE_COLUMNS[states]).map((name) => row[name] ?? null)];
  return textHash(canonicalColumns(columns, version)).toString("hex");
}
