import "server-only";
import type { EvidenceAttributes } from "@/lib/quality/inspection-evidence";
import type { Verdict } from "@/lib/quality/verdict-words";
import { constant, sql, woven } from "../sql";
import { columnName, columnsOf, type SqlTypes } from "./table-columns";

/** A row of the table inspection as the driver gives it. */
export type InspectionColumns = {
  readonly plantId: string;
  readonly id: string;
  readonly frameId: string;
  readonly batchId: string;
  readonly lineId: string;
  readonly stationId: string;
  readonly operationId: string;
  readonly drawingId: string;
  readonly drawingRevisionId: string;
  readonly planRevisionId: string;
  readonly inspectorId: string | null;
  readonly deviceId: string | null;
  readonly ordinal: number;
  readonly reason: string | null;
  readonly readings: readonly (number | null)[];
  readonly gauges: readonly number[];
  readonly gaugeKeys: readonly string[];
  readonly states: readonly number[];
  readonly offsetsMs: readonly number[];
  readonly features: readonly (number | null)[];
  readonly judgement: unknown;
  readonly verdict: Verdict;
  readonly superseded: unknown;
  readonly attributes: EvidenceAttributes;
  readonly deviceTime: Date;
  readonly measuredAt: Date;
  readonly recordedAt: Date;
  readonly coreVersion: string;
  readonly tool: string | null;
  readonly fixture: string | null;
  readonly contentHash: Buffer;
};

/** Every column of the table, in its order. */
export const INSPECTION_TYPES = {
  plantId: "uuid",
  id: "uuid",
  frameId: "uuid",
  batchId: "uuid",
  lineId: "uuid",
  stationId: "uuid",
  operationId: "uuid",
  drawingId: "uuid",
  drawingRevisionId: "uuid",
  planRevisionId: "uuid",
  inspectorId: "uuid",
  deviceId: "text",
  ordinal: "int2",
  reason: "text",
  readings: "float8[]",
  gauges: "int2[]",
  gaugeKeys: "text[]",
  states: "int2[]",
  offsetsMs: "int4[]",
  features: "float8[]",
  judgement: "jsonb",
  verdict: "text",
  superseded: "jsonb",
  attributes: "jsonb",
  deviceTime: "timestamptz",
  measuredAt: "timestamptz",
  recordedAt: "timestamptz",
  coreVersion: "text",
  tool: "text",
  fixture: "text",
  contentHash: "bytea",
} as const satisfies SqlTypes<InspectionColumns>;

export const inspectionColumns = columnsOf<InspectionColumns>(INSPECTION_TYPES);

/** Of inspection `i`: nobody has withdrawn it. */
export const notWithdrawn = sql`not exists (
  select 1 from inspection_withdrawal w where w.plant_id = i.plant_id and w.inspection_id = i.id)`;

/** A column of which each inserted row brings its own value. */
export type SentColumn = { readonly column: string; readonly type: string };

/** All but those that rows of one insert have in common. */
const SENT: readonly SentColumn[] = Object.entries(INSPECTION_TYPES)
  .filter(([name]) => name !== "plantId" && name !== "recordedAt")
  .map(([name, type]) => ({ column: columnName(name), type }));

/** Those columns as an insert names them, after plant_id and recorded_at. */
export const sentNames = constant(SENT.map(({ column }) => column).join(", "));

/** Arrays and json go as an array of texts, since PostgreSQL makes no rows of arrays of different lengths. */
const sentType = (type: string): string => (type.endsWith("[]") || type === "jsonb" ? "text" : type);

/** Those columns of a row `r` of sentInspections, each in its own type. */
export const sentColumns = constant(
  SENT.map(({ column, type }) => `r.${column}${sentType(type) === type ? "" : `::${type}`}`).join(", "),
);

/**
 * Rows to insert as a table `r`, which PostgreSQL makes of one array a column.
 *
 * @param valuesOf - the values of a column, a row each, as the driver sends them
 */
export function sentInspections(valuesOf: (column: SentColumn) => unknown) {
  const types = SENT.map(({ type }) => `::${sentType(type)}[]`);
  return woven(
    types
      .map((_, at) => (at === 0 ? "unnest(" : `${types[at - 1]}, `))
      .concat(`${types.at(-1)}) as r(${sentNames.text})`),
    SENT.map(valuesOf),
  );
}
