import "server-only";
import type pg from "pg";
import type { EventFacts } from "@/lib/quality/messages/event-facts";
import { isEventKind, type EventKind, type PlantEvent } from "@/lib/quality/messages/event-kinds";
import { answerWords, caseHeadline } from "@/lib/format/case-words";
import { batchColumns } from "../db/columns/batch";
import { driftCaseColumns } from "../db/columns/drift-case";
import { frameColumns } from "../db/columns/frame";
import { lineColumns } from "../db/columns/line";
import { supplierColumns } from "../db/columns/supplier";
import { type RowOf, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { readBatchEvidence } from "../gate/read-batch-evidence";

/** An event with what is known of it. */
export type KnownEvent = {
  readonly event: PlantEvent;
  /** What it is about, without its kind. */
  readonly name: string;
  readonly facts: EventFacts;
};

export type OutboxRow = {
  readonly id: string;
  readonly topic: string;
  readonly payload: Readonly<Record<string, unknown>>;
  readonly createdAt: Date;
};

const heldBatch = batchColumns("b", ["id", "key"]);
const supplierOf = supplierColumns("s", { supplier: "name" });
const lineOf = lineColumns("l", { line: "name", lineId: "id" });
const escapedFrame = frameColumns("f", ["serial"]);
const batchOf = batchColumns("b", { batch: "key" });
const lineOfBatch = batchColumns("b", ["key", "lineId"]);

async function readBatches(db: pg.ClientBase, plantId: string, ids: readonly unknown[]) {
  const { rows } = await db.query<RowOf<typeof heldBatch> & RowOf<typeof lineOf> & RowOf<typeof supplierOf>>(sql`
    select ${heldBatch}, ${lineOf}, ${supplierOf}
    from batch b join line l on l.plant_id = b.plant_id and l.id = b.line_id
    join supplier s on s.plant_id = b.plant_id and s.id = b.supplier_id
    where b.plant_id = ${plantId} and b.id = any(${ids}::uuid[])`);
  return new Map(rows.map((row) => [row.id, row]));
}

async function readEscapes(db: pg.ClientBase, plantId: string, serials: readonly unknown[]) {
  const { rows } = await db.query<
    RowOf<typeof escapedFrame> & RowOf<typeof batchOf> & RowOf<typeof lineOf> & { reason: string }
  >(sql`
    select distinct on (f.serial) ${escapedFrame}, ${batchOf}, ${lineOf}, e.reason
    from frame f join batch b on b.plant_id = f.plant_id and b.id = f.batch_id
    join line l on l.plant_id = b.plant_id and l.id = b.line_id
    join escape e on e.plant_id = f.plant_id and e.frame_id = f.id
    where f.plant_id = ${plantId} and f.serial = any(${serials}::text[])
    order by f.serial, e.opened_at desc, e.id`);
  return new Map(rows.map((row) => [row.serial, row]));
}

async function readLineIds(db: pg.ClientBase, plantId: string, keys: readonly unknown[]) {
  const { rows } = await db.query<RowOf<typeof lineOfBatch>>(sql`
    select ${lineOfBatch} from batch b where b.plant_id = ${plantId} and b.key = any(${keys}::text[])`);
  return new Map(rows.map((row) => [row.key, row.lineId]));
}

const toldCase = together(
  driftCaseColumns("c", ["id", "number", "found", "lineId"]),
  lineColumns("l", { line: "name" }),
);

async function readCases(db: pg.ClientBase, plantId: string, ids: readonly unknown[]) {
  const { rows } = await db.query<RowOf<typeof toldCase>>(sql`
    select ${toldCase} from drift_case c join line l on l.plant_id = c.plant_id and l.id = c.line_id
    where c.plant_id = ${plantId} and c.id = any(${ids}::uuid[])`);
  return new Map(rows.map((row) => [row.id, row]));
}

/** Kinds whose payload is all that is known of them; the member that names what they are about. */
const NAMED_BY = {
  "gauge.failed": "gauge",
  "gauge.due": "gauge",
  "device.silent": "device",
  "decision.waiting": "batch",
  "job.failed": "job",
  "backup.failed": "backup",
  "backup.old": "backup",
} as const satisfies Partial<Record<EventKind, string>>;

const CASE_KINDS = ["case.opened", "case.back", "case.forecast"] as const satisfies readonly EventKind[];

function isCaseKind(topic: EventKind): topic is (typeof CASE_KINDS)[number] {
  return (CASE_KINDS as readonly EventKind[]).includes(topic);
}

/**
 * Finds what is known of events. What is not known any more, and what an older version wrote of other kinds, is left out.
 *
 * @param rows - of one plant, in their order
 */
export async function readFacts(
  db: pg.ClientBase,
  plantId: string,
  rows: readonly OutboxRow[],
): Promise<readonly KnownEvent[]> {
  const of = (topic: EventKind, member: string) =>
    rows.filter((row) => row.topic === topic).map((row) => row.payload[member]);
  const batches = await readBatches(db, plantId, of("batch.held", "id"));
  const escapes = await readEscapes(db, plantId, of("escape.opened", "serial"));
  const cases = await readCases(
    db,
    plantId,
    CASE_KINDS.flatMap((kind) => of(kind, "id")),
  );
  const lines = await readLineIds(db, plantId, of("decision.waiting", "batch"));
  return rows.flatMap(({ id, topic, payload, createdAt }): KnownEvent[] => {
    if (!isEventKind(topic)) return [];
    const known = (name: string, lineId: string | null, facts: EventFacts, about: string): KnownEvent[] => {
      const event = { id, kind: topic, subject: `${about}:${name}`, lineId, atMs: createdAt.getTime() };
      return [{ event, name, facts }];
    };
    if (topic === "batch.held") {
      const batch = batches.get(String(payload["id"]));
      if (batch === undefined) return [];
      const { key, line, lineId, supplier } = batch;
      return known(key, lineId, { kind: topic, batch: key, line, supplier, reasons: [] }, "batch");
    }
    if (topic === "escape.opened") {
      const frame = escapes.get(String(payload["serial"]));
      if (frame === undefined) return [];
      const { lineId, ...facts } = frame;
      return known(frame.serial, lineId, { kind: topic, ...facts }, "frame");
    }
    if (isCaseKind(topic)) {
      const found = cases.get(String(payload["id"]));
      if (found === undefined) return [];
      const { number, line, lineId } = found;
      const [what, likely] = [caseHeadline(found.found), answerWords(found.found.answer)];
      const { serial } = found.found.since;
      const facts = { ...payload, kind: topic, id: found.id, number, line, what, likely, serial } as EventFacts;
      return known(String(number), lineId, facts, "case");
    }
    const name = String(payload[NAMED_BY[topic]]);
    const lineId = topic === "decision.waiting" ? (lines.get(name) ?? null) : null;
    return known(name, lineId, { ...payload, kind: topic } as EventFacts, NAMED_BY[topic]);
  });
}

const MOST_REASONS = 3;

/** Why a batch holds now, in sentences; nothing where it holds no more. */
export async function readReasons(db: pg.ClientBase, plantId: string, batchId: string): Promise<readonly string[]> {
  const batch = await readBatchEvidence(db, plantId, batchId);
  if (batch === null || batch.heldAt === null) return [];
  // What was found comes before what is still to be measured: a batch under way always has the latter.
  const isLate = ({ code }: { readonly code: string }): number => Number(code === "not-measured");
  const reasons = batch.decision.reasons.toSorted((a, b) => isLate(a) - isLate(b)).map(({ text }) => text);
  const more = reasons.length - MOST_REASONS;
  return more > 0
    ? [...reasons.slice(0, MOST_REASONS), `${more} more ${more === 1 ? "reason stands" : "reasons stand"} on its page.`]
    : reasons;
}
