import "server-only";
import { CANONICAL_VERSION, canonicalColumns, textHash } from "./canonical-json";

/**
 * Columns of the tables whose rows the journal vouches for. A row's hash covers all of them, in this order; a column added
 * later gets a table entry of its own, so that older hashes stay checkable.
 */
export const VOUCHED_COLUMNS = {
  inspection: [
    "plant_id",
    "id",
    "frame_id",
    "batch_id",
    "line_id",
    "station_id",
    "operation_id",
    "drawing_id",
    "drawing_revision_id",
    "plan_revision_id",
    "inspector_id",
    "device_id",
    "ordinal",
    "reason",
    "readings",
    "gauges",
    "gauge_keys",
    "states",
    "offsets_ms",
    "features",
    "judgement",
    "verdict",
    "superseded",
    "attributes",
    "device_time",
    "measured_at",
    "recorded_at",
    "core_version",
    "tool",
    "fixture",
    "content_hash",
  ],
  inspection_withdrawal: ["plant_id", "inspection_id", "person_id", "reason", "at"],
  decision: [
    "plant_id",
    "id",
    "kind",
    "batch_id",
    "frame_ids",
    "grounds",
    "evidence",
    "person_id",
    "at",
    "expires_at",
    "content_hash",
  ],
  shipment: ["plant_id", "id", "frame_id", "serial", "answer", "reasons", "person_id", "token_id", "at"],
  zero_check: [
    "plant_id",
    "id",
    "gauge_id",
    "ring_id",
    "at",
    "reading_mm",
    "drift_um",
    "limit_um",
    "occasion",
    "person_id",
  ],
  attachment: ["plant_id", "id", "inspection_id", "frame_id", "name", "media_type", "content_hash", "person_id", "at"],
  calibration: ["plant_id", "id", "gauge_id", "ring_id", "at", "due_at", "bias_um", "certificate"],
  event: ["plant_id", "id", "line_id", "kind", "at", "text", "subject", "person_id"],
  event_correction: ["plant_id", "id", "event_id", "instead_id", "reason", "at", "person_id", "token_id"],
  case_entry: ["plant_id", "id", "case_id", "kind", "at", "person_id", "text", "data"],
  alarm_scheme: [
    "plant_id",
    "id",
    "version",
    "budget",
    "streams",
    "expected",
    "reason",
    "effective_from",
    "created_at",
    "person_id",
  ],
  stream_baseline: [
    "plant_id",
    "id",
    "watch_id",
    "stream",
    "version",
    "kind",
    "of_version",
    "frames",
    "ages",
    "left_out",
    "outliers",
    "centre",
    "sd",
    "region",
    "started",
    "after_at",
    "after_id",
    "case_id",
    "reason",
    "created_at",
    "person_id",
  ],
  sampling_scheme: [
    "plant_id",
    "id",
    "supplier_id",
    "model_id",
    "version",
    "scheme",
    "state",
    "reason",
    "person_id",
    "created_at",
  ],
  batch_sample: ["plant_id", "batch_id", "scheme_id", "frames", "plan", "state", "at"],
  sampled_lot: ["plant_id", "batch_id", "scheme_id", "place", "found", "accepted", "accepted_tighter", "state", "at"],
  stream_tests: ["plant_id", "id", "watch_id", "stream", "version", "tests", "reason", "created_at", "person_id"],
  drawing_revision: [
    "plant_id",
    "id",
    "drawing_id",
    "revision",
    "content",
    "feature_names",
    "created_at",
    "released_at",
    "released_by_id",
  ],
  measuring_plan_revision: [
    "plant_id",
    "id",
    "plan_id",
    "drawing_revision_id",
    "revision",
    "reading_names",
    "frames",
    "settings",
    "created_at",
    "released_at",
    "released_by_id",
  ],
} as const;

export type VouchedTable = keyof typeof VOUCHED_COLUMNS;

/** The column that an entry names a row by. */
export const VOUCHED_KEY = {
  inspection: "id",
  inspection_withdrawal: "inspection_id",
  decision: "id",
  shipment: "id",
  zero_check: "id",
  attachment: "id",
  calibration: "id",
  event: "id",
  event_correction: "id",
  case_entry: "id",
  alarm_scheme: "id",
  stream_baseline: "id",
  sampling_scheme: "id",
  batch_sample: "batch_id",
  sampled_lot: "batch_id",
  stream_tests: "id",
  drawing_revision: "id",
  measuring_plan_revision: "id",
} as const satisfies Record<VouchedTable, string>;

/** Tables for which the journal vouches since a later version: from the entry of begin-vouching.ts on. */
export const LATER_TABLES = [
  "calibration",
  "event",
  "drawing_revision",
  "measuring_plan_revision",
] as const satisfies readonly VouchedTable[];

/** Which rows of a table are vouched for, where not all are: a draft may still change. That a revision was superseded is not hashed. */
export const FINAL_ROWS: Partial<Record<VouchedTable, string>> = {
  drawing_revision: "state <> 'draft'",
  measuring_plan_revision: "state <> 'draft'",
};

/**
 * Hash of one row by which the journal vouches for it.
 *
 * @param row - the row as the database gives it (or as it is about to be written), by column name
 * @param version - of the canonical spelling
 * @returns hexadecimal SHA-256
 */
export function rowHash(
  table: VouchedTable,
  row: Readonly<Record<string, unknown>>,
  version: number = CANONICAL_VERSION,
): string {
  const columns = [table, ...VOUCHED_COLUMNS[table].map((column) => row[column] ?? null)];
  return textHash(canonicalColumns(columns, version)).toString("hex");
}
