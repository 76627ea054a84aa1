import "server-only";
import type pg from "pg";
import { CORE_VERSION } from "@/lib/core/version";
import { uuidV7 } from "@/lib/schemas/identifier";
import { type SentColumn, sentColumns, sentInspections, sentNames } from "../db/columns/inspection";
import { constant, prepared, sql } from "../db/sql";
import { holdBatches } from "../evidence/hold-batches";
import { writeEvents, type WrittenEvent } from "../outbox/write-events";
import { canonicalJson, Written } from "../journal/canonical-json";
import { stateSelect } from "../journal/vouched-states";
import { stateSubject, type StateRow, type StateSubject } from "../journal/written-rows";
import type { PlacedInspection } from "./placed-inspection";

/** A row of the table inspection, by column. */
export type InspectionRow = {
  readonly id: string;
  readonly columns: Readonly<Record<string, unknown>>;
};

/** What is not a number, with the person behind each code: badges change hands, the record does not. */
function attributesOf({ input, inspectors }: PlacedInspection["item"]): unknown {
  const { attributes = {} } = input;
  if (attributes.inspectors === undefined) return attributes;
  const named = attributes.inspectors.map((one) => ({ ...one, personId: inspectors.get(one.code)?.id ?? null }));
  return { ...attributes, inspectors: named };
}

function supersededOf({ input, inspectors }: PlacedInspection["item"]): unknown {
  return (input.superseded ?? []).map((one) =>
    one.by === undefined ? one : { ...one, personId: inspectors.get(one.by)?.id ?? null },
  );
}

/** The row that one inspection becomes: it never changes afterwards. */
export function inspectionRow(placed: PlacedInspection, now: Date, coreVersion: string): InspectionRow {
  const { item, frame } = placed;
  const { viewer, input, station, plan, findings } = item;
  const columns = {
    plant_id: viewer.plantId,
    id: input.id,
    frame_id: frame.id,
    batch_id: frame.batchId,
    line_id: station.lineId,
    station_id: station.id,
    operation_id: station.operationId,
    drawing_id: plan.drawingId,
    drawing_revision_id: plan.drawingRevisionId,
    plan_revision_id: plan.id,
    inspector_id: item.inspector?.id ?? (viewer.kind === "person" ? viewer.personId : null),
    device_id: input.deviceId ?? null,
    ordinal: placed.ordinal,
    reason: placed.reason,
    readings: item.readings,
    gauges: new Written(item.gauges),
    gauge_keys: item.gaugeKeys,
    states: new Written(item.states),
    offsets_ms: new Written(input.offsetsMs ?? []),
    features: new Written(findings.features),
    judgement: new Written(findings.reasons),
    verdict: findings.verdict,
    superseded: new Written(supersededOf(item)),
    attributes: new Written(attributesOf(item)),
    device_time: item.deviceTime,
    measured_at: item.measuredAt,
    recorded_at: now,
    core_version: coreVersion,
    tool: input.tool ?? null,
    fixture: input.fixture ?? null,
    content_hash: item.contentHash,
  };
  return { id: input.id, columns };
}

const quoted = (text: string): string => `"${text.replaceAll("\\", "\\\\").replaceAll('"', '\\"')}"`;
/** An array of numbers and nulls, as JSON writes it, in the form in which PostgreSQL reads one. */
const numberArray = ({ text }: Written): string => `{${text.slice(1, -1)}}`;

const uuidArray = (keys: readonly (string | null)[]): string => `{${keys.map((key) => key ?? "NULL").join()}}`;

/** One column of some rows as a parameter for unnest; what needs no quoting is put together here, which is cheaper. */
function columnParameter(rows: readonly InspectionRow[], { column, type }: SentColumn): unknown {
  const values = rows.map((row) => row.columns[column]);
  switch (type) {
    case "float8[]":
    case "int2[]":
    case "int4[]":
      return `{${(values as Written[]).map((one) => `"${numberArray(one)}"`).join()}}`;
    case "text[]":
      return (values as string[][]).map((keys) => `{${keys.map(quoted).join()}}`);
    case "jsonb":
      return (values as Written[]).map((one) => one.text);
    case "timestamptz":
      return `{${(values as Date[]).map((one) => `"${one.toISOString()}"`).join()}}`;
    case "uuid":
      return uuidArray(values as (string | null)[]);
    default:
      return values;
  }
}

const FRAME_STATE = constant(`${stateSelect("frame_state")}, nextval('vouching_order') as vouching_order`);

/** One row a frame: with several inspections of one frame at once, the last one. */
function lastOfEachFrame(placed: readonly PlacedInspection[]): PlacedInspection[] {
  return [...new Map(placed.map((one) => [one.frame.id, one])).values()];
}

/**
 * Inspections in, frames moved: one statement, since each costs the line a wait.
 *
 * @returns the frames as they are now, as the journal vouches for them
 */
async function writeRowsAndFrames(
  db: pg.ClientBase,
  plantId: string,
  placed: readonly PlacedInspection[],
  rows: readonly InspectionRow[],
  now: Date,
): Promise<StateSubject[]> {
  const last = lastOfEachFrame(placed);
  const moved = await db.query<StateRow>(
    prepared(
      "write-inspections",
      sql`with inserted as (
        insert into inspection (plant_id, recorded_at, ${sentNames})
        select ${plantId}, ${now}, ${sentColumns} from ${sentInspections((sent) => columnParameter(rows, sent))})
      update frame r set state = n.state::"FrameState", verdict = n.verdict, judgement = n.judgement::jsonb,
        judged_by = ${CORE_VERSION}, inspections = n.inspections, last_inspection_id = n.inspection_id, measured_at = n.measured_at,
        lease_device_id = null, leased_at = null, version = r.version + 1
      from unnest(${last.map((one) => one.frame.id)}::uuid[], ${last.map((one) => one.frame.state)}::text[],
        ${last.map((one) => one.verdict)}::text[],
        ${last.map((one) => canonicalJson(one.reasons))}::text[], ${last.map((one) => one.frame.inspections)}::int2[],
        ${last.map((one) => one.item.input.id)}::uuid[], ${last.map((one) => one.item.measuredAt)}::timestamptz[])
        as n(id, state, verdict, judgement, inspections, inspection_id, measured_at)
      where r.plant_id = ${plantId} and r.id = n.id
      returning ${FRAME_STATE}`,
    ),
  );
  return moved.rows.map((row) => stateSubject("frame_state", row));
}

async function openEscapes(
  db: pg.ClientBase,
  plantId: string,
  placed: readonly PlacedInspection[],
  now: Date,
): Promise<void> {
  const escaped = placed.filter((one) => one.escape !== null);
  if (escaped.length === 0) return;
  await db.query(sql`
    insert into escape (plant_id, id, frame_id, inspection_id, reason, opened_at)
    select ${plantId}, r.id, r.frame_id, r.inspection_id, r.reason, ${now}
    from unnest(${escaped.map(() => uuidV7())}::uuid[], ${escaped.map((one) => one.frame.id)}::uuid[],
      ${escaped.map((one) => one.item.input.id)}::uuid[], ${escaped.map((one) => one.escape)}::text[])
      as r(id, frame_id, inspection_id, reason)
    on conflict do nothing`);
}

/**
 * Writes rows, frames, batches, escapes and events of one recording.
 *
 * @returns what changed as the journal vouches for it; undefined where more than the frames did, and the database is to be asked
 */
export async function writeRecording(
  db: pg.ClientBase,
  plantId: string,
  placed: readonly PlacedInspection[],
  rows: readonly InspectionRow[],
  now: Date,
): Promise<StateSubject[] | undefined> {
  const frames = await writeRowsAndFrames(db, plantId, placed, rows, now);
  const holding = placed.filter((one) => one.frame.state === "held").map((one) => one.frame.batchId);
  const heldBatches = await holdBatches(db, plantId, holding, now);
  await openEscapes(db, plantId, placed, now);
  const events: readonly WrittenEvent[] = [
    ...heldBatches.map(({ id }) => ({ topic: "batch.held" as const, payload: { id } })),
    ...placed
      .filter((one) => one.escape !== null)
      .map((one) => ({
        topic: "escape.opened" as const,
        payload: { serial: one.frame.serial, inspection: one.item.input.id },
      })),
  ];
  await writeEvents(db, plantId, events, now);
  return holding.length === 0 ? frames : undefined;
}
