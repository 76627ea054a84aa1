import "server-only";
import { contentHash } from "./canonical-json";

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
} as const satisfies Record<VouchedTable, string>;

/**
 * Hash of one row by which the journal vouches for it.
 *
 * @param row - the row as the database gives it (or as it is about to be written), by column name
 * @returns hexadecimal SHA-256
 */
export function rowHash(table: VouchedTable, row: Readonly<Record<string, unknown>>): string {
  return contentHash([table, ...VOUCHED_COLUMNS[table].map((column) => row[column] ?? null)]).toString("hex");
}
