import "server-only";
import type { EvidenceAttributes } from "@/lib/quality/inspection-evidence";
import type { Verdict } from "@/lib/quality/verdict-words";
import { constant, sql, woven } from "../sql";
import {
  bytea,
  columnName,
  columnsOf,
  float8,
  instant,
  int2,
  int4,
  jsonb,
  list,
  nullable,
  text,
  texts,
  uuid,
  word,
} from "./table-columns";

export const inspectionColumns = columnsOf("inspection", {
  plantId: uuid,
  id: uuid,
  frameId: uuid,
  batchId: uuid,
  lineId: uuid,
  stationId: uuid,
  operationId: uuid,
  drawingId: uuid,
  drawingRevisionId: uuid,
  planRevisionId: uuid,
  inspectorId: nullable(uuid),
  deviceId: nullable(text),
  ordinal: int2,
  reason: nullable(text),
  readings: list<number | null>(float8),
  gauges: list<number>(int2),
  gaugeKeys: texts,
  states: list<number>(int2),
  offsetsMs: list<number>(int4),
  features: list<number | null>(float8),
  judgement: jsonb<unknown>(),
  verdict: word<Verdict>(),
  superseded: jsonb<unknown>(),
  attributes: jsonb<EvidenceAttributes>(),
  deviceTime: instant,
  measuredAt: instant,
  recordedAt: instant,
  coreVersion: text,
  tool: nullable(text),
  fixture: nullable(text),
  contentHash: bytea,
});

/** Of inspection `i`: nobody has withdrawn it. */
export const notWithdrawn = sql`not exists (
  select 1 from inspection_withdrawal w where w.plant_id = i.plant_id and w.inspection_id = i.id)`;

/** A column of which each inserted row brings its own value. */
export type SentColumn = { readonly column: string; readonly type: string };

/** All but those that rows of one insert have in common. */
const SENT: readonly SentColumn[] = Object.entries(inspectionColumns.columns)
  .filter(([name]) => name !== "plantId" && name !== "recordedAt")
  .map(([name, { type }]) => ({ column: columnName(name), type }));

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
