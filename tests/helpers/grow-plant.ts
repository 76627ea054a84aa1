import { randomBytes } from "node:crypto";
import { rmSync, writeFileSync } from "node:fs";
import os from "node:os";
import path from "node:path";
import type pg from "pg";
import { CHARTED_STREAMS, streamValue } from "@/lib/quality/control-limits";
import { uuidV7 } from "@/lib/schemas/identifier";
import { entryHash, type JournalSubject } from "@/lib/server/journal/append-journal";
import { CANONICAL_VERSION, canonicalJson } from "@/lib/server/journal/canonical-json";
import { rowHash } from "@/lib/server/journal/vouched-rows";
import { stateHash } from "@/lib/server/journal/vouched-states";
import type { StateSubject } from "@/lib/server/journal/written-rows";

type Row = Record<string, unknown>;

/** Columns whose arrays and objects are JSON; every other array is one of the database's own. */
const JSON_COLUMNS = new Set([
  "judgement",
  "superseded",
  "attributes",
  "policy",
  "detail",
  "reasons",
  "subjects",
  "payload",
]);

function fieldText(column: string, value: unknown): string | null {
  if (value === null || value === undefined) return null;
  if (value instanceof Date) return value.toISOString();
  if (value instanceof Uint8Array) return `\\x${Buffer.from(value).toString("hex")}`;
  if (JSON_COLUMNS.has(column)) return canonicalJson(value);
  if (Array.isArray(value))
    return `{${value.map((one: unknown) => (one === null ? "NULL" : typeof one === "string" ? JSON.stringify(one) : String(one))).join()}}`;
  return String(value);
}

/** A field as COPY reads it in its text format. */
const copied = (text: string | null): string =>
  text === null
    ? "\\N"
    : text.replaceAll("\\", "\\\\").replaceAll("\n", "\\n").replaceAll("\r", "\\r").replaceAll("\t", "\\t");

/** Rows of one table by COPY from a file that the server reads. */
async function copyRows(db: pg.ClientBase, table: string, rows: readonly Row[]): Promise<void> {
  const columns = Object.keys(rows[0] ?? {});
  if (columns.length === 0) return;
  const file = path.join(os.tmpdir(), `shellgate-grow-${process.pid}-${table}.copy`);
  const lines = rows.map((row) => columns.map((column) => copied(fieldText(column, row[column]))).join("\t"));
  writeFileSync(file, `${lines.join("\n")}\n`, { mode: 0o644 });
  await db.query(`copy ${table} (${columns.map((one) => `"${one}"`).join()}) from '${file}'`);
  rmSync(file);
}

type Entry = {
  readonly at: Date;
  readonly action: string;
  readonly subjects: readonly (JournalSubject | StateSubject)[];
  readonly payload: unknown;
};

/** Appends to one chain as the commands do, and puts its head on. */
async function appendEntries(db: pg.ClientBase, plantId: string, chain: string, entries: readonly Entry[]) {
  await db.query(
    `insert into journal_chain (plant_id, chain, length, head) values ($1, $2, 0, $3) on conflict do nothing`,
    [plantId, chain, Buffer.alloc(32)],
  );
  const { rows: heads } = await db.query<{ length: string; head: Buffer }>(
    `select length, head from journal_chain where plant_id = $1 and chain = $2 for update`,
    [plantId, chain],
  );
  let sequence = BigInt(heads[0]?.length ?? 0);
  let head: Buffer = heads[0]?.head ?? Buffer.alloc(32);
  const rows = entries.map((entry) => {
    sequence += 1n;
    const draft = { plantId, chain, actor: "system", ...entry };
    const [previous, hash] = [head, entryHash(draft, sequence, head)];
    head = hash;
    const { at, actor, action, subjects, payload } = draft;
    return {
      plant_id: plantId,
      chain,
      sequence,
      at,
      actor,
      action,
      subjects,
      payload,
      previous,
      hash,
      canonical: CANONICAL_VERSION,
    };
  });
  await copyRows(db, "journal_entry", rows);
  await db.query(`update journal_chain set length = $3, head = $4 where plant_id = $1 and chain = $2`, [
    plantId,
    chain,
    sequence.toString(),
    head,
  ]);
}

type Template = {
  readonly batches: readonly Row[];
  readonly framesOf: ReadonlyMap<string, readonly Row[]>;
  readonly inspectionOf: ReadonlyMap<string, Row>;
};

const grouped = (rows: readonly Row[], column: string): Map<string, Row[]> => {
  const groups = new Map<string, Row[]>();
  for (const row of rows) {
    const key = String(row[column]);
    const known = groups.get(key);
    if (known) known.push(row);
    else groups.set(key, [row]);
  }
  return groups;
};

async function readTemplate(db: pg.ClientBase, plantId: string, batches: readonly string[]): Promise<Template> {
  const of = async (text: string): Promise<Row[]> => (await db.query<Row>(text, [plantId, batches])).rows;
  const there = "plant_id = $1 and batch_id in (select id from batch where plant_id = $1 and key = any($2))";
  return {
    batches: await of("select * from batch where plant_id = $1 and key = any($2) order by key"),
    framesOf: grouped(await of(`select * from frame where ${there} order by position`), "batch_id"),
    inspectionOf: new Map(
      (await of(`select * from inspection where ${there}`)).map((row) => [String(row["frame_id"]), row]),
    ),
  };
}

const later = (time: unknown, ms: number): Date | null => (time instanceof Date ? new Date(time.getTime() + ms) : null);

export type Growth = {
  /** Keys of batches of which every frame was measured once and has shipped: their rows are what is copied. */
  readonly template: readonly string[];
  /** Place of the first new batch, and how many. */
  readonly first: number;
  readonly count: number;
  readonly batchKey: (batch: number) => string;
  readonly serialOf: (frame: number) => string;
  /** Between two frames, ms. */
  readonly apartMs: number;
};

/** Batches in one transaction: what is made of them fits into memory. */
const AT_ONCE = 40;

/** What one transaction adds, by table, with the entries that vouch for it. */
class Added {
  readonly rows = new Map<string, Row[]>();
  readonly entries = new Map<string, Entry[]>();

  add(table: string, row: Row): void {
    const known = this.rows.get(table);
    if (known) known.push(row);
    else this.rows.set(table, [row]);
  }

  enter(chain: string, entry: Entry): void {
    const known = this.entries.get(chain);
    if (known) known.push(entry);
    else this.entries.set(chain, [entry]);
  }
}

/** Names of what is hashed of a frame or batch, for rows that are not in the database yet. */
function stateOf(table: "frame_state" | "batch_state", row: Row, order: number): StateSubject {
  return { table, id: String(row["id"]), hash: stateHash(table, row), order };
}

function copyBatch(
  added: Added,
  plantId: string,
  template: Template,
  batch: number,
  growth: Growth,
  nextOrder: () => number,
) {
  const model = template.batches[batch % template.batches.length] ?? {};
  const models = template.framesOf.get(String(model["id"])) ?? [];
  const number = Number(String(model["key"]).replace(/\D/g, ""));
  const shift = (batch - number) * models.length * growth.apartMs;
  const openedAt = later(model["opened_at"], shift);
  const batchId = uuidV7(openedAt?.getTime());
  const own = {
    ...model,
    id: batchId,
    key: growth.batchKey(batch),
    opened_at: openedAt,
    held_at: later(model["held_at"], shift),
    released_at: later(model["released_at"], shift),
  };
  added.add("batch", own);
  added.enter("setup", {
    at: openedAt ?? new Date(),
    action: "batch.created",
    subjects: [stateOf("batch_state", own, nextOrder())],
    payload: { key: own.key, frames: models.length },
  });
  for (const [place, frame] of models.entries()) {
    const was = template.inspectionOf.get(String(frame["id"])) ?? {};
    const measuredAt = later(was["measured_at"], shift) ?? new Date();
    const [frameId, inspectionId] = [uuidV7(openedAt?.getTime()), uuidV7(measuredAt.getTime())];
    const serial = growth.serialOf(batch * models.length + place);
    const inspection = {
      ...was,
      id: inspectionId,
      frame_id: frameId,
      batch_id: batchId,
      device_time: later(was["device_time"], shift),
      measured_at: measuredAt,
      recorded_at: later(was["recorded_at"], shift),
      content_hash: randomBytes(32),
    };
    added.add("inspection", inspection);
    const shippedAt = later(frame["shipped_at"], shift);
    const made = {
      ...frame,
      id: frameId,
      batch_id: batchId,
      serial,
      last_inspection_id: inspectionId,
      measured_at: measuredAt,
      shipped_at: shippedAt,
    };
    added.add("frame", made);
    added.enter("line:L1", {
      at: measuredAt,
      action: "inspections.recorded",
      subjects: [
        { table: "inspection", id: inspectionId, hash: rowHash("inspection", inspection) },
        stateOf("frame_state", made, nextOrder()),
      ],
      payload: { frames: [[serial, was["verdict"], made["state" as keyof typeof made]]] },
    });
    const shipment = {
      plant_id: plantId,
      id: uuidV7(shippedAt?.getTime()),
      frame_id: frameId,
      serial,
      answer: "shipped",
      reasons: [],
      person_id: null,
      token_id: null,
      at: shippedAt,
    };
    added.add("shipment", shipment);
    added.enter("gate", {
      at: shippedAt ?? new Date(),
      action: "frame.shipped",
      subjects: [{ table: "shipment", id: shipment.id, hash: rowHash("shipment", shipment) }],
      payload: { serial, reasons: [] },
    });
  }
}

/** A good zero check a batch, and a calibration of every gauge now and then. */
async function checkGauges(added: Added, db: pg.ClientBase, plantId: string, ring: string) {
  const { rows: gauges } = await db.query<{ id: string; kind: string }>(
    `select id, kind from gauge where plant_id = $1`,
    [plantId],
  );
  const { rows: rings } = await db.query<{ id: string; size: number }>(
    `select id, certified_size_mm as size from setting_ring where plant_id = $1 and key = $2`,
    [plantId, ring],
  );
  const [bore, shown] = [gauges.find(({ kind }) => kind === "bore"), rings[0]];
  if (bore === undefined || shown === undefined) throw new Error("grow: the plant has no bore gauge or no ring");
  const enter = (table: "zero_check" | "calibration", row: Row & { id: string; at: Date }) => {
    added.add(table, row);
    const action = table === "zero_check" ? "zero-check.recorded" : "calibration.added";
    added.enter("gauges", {
      at: row.at,
      action,
      subjects: [{ table, id: row.id, hash: rowHash(table, row) }],
      payload: {},
    });
  };
  for (const { opened_at: at } of (added.rows.get("batch") ?? []) as { opened_at: Date }[])
    enter("zero_check", {
      plant_id: plantId,
      id: uuidV7(at.getTime()),
      gauge_id: bore.id,
      ring_id: shown.id,
      at,
      reading_mm: shown.size,
      drift_um: 0,
      limit_um: 3,
      occasion: "shift",
      person_id: null,
    });
  const at = (added.rows.get("batch")?.[0]?.["opened_at"] as Date | undefined) ?? new Date();
  for (const gauge of gauges)
    enter("calibration", {
      plant_id: plantId,
      id: uuidV7(at.getTime()),
      gauge_id: gauge.id,
      ring_id: null,
      at,
      due_at: new Date(at.getTime() + 3650 * 86_400_000),
      bias_um: null,
      certificate: null,
    });
}

async function countPoints(db: pg.ClientBase, plantId: string, inspections: readonly Row[]): Promise<void> {
  const lastAt = new Date(Math.max(...inspections.map((row) => (row["measured_at"] as Date).getTime())));
  const gained = CHARTED_STREAMS.map(
    (stream) => inspections.filter((row) => streamValue(stream, row["features"] as (number | null)[]) !== null).length,
  );
  await db.query(
    `update stream s set points = s.points + r.gained, last_at = greatest(s.last_at, $4::timestamptz)
     from unnest($2::text[], $3::int[]) as r(feature, gained) where s.plant_id = $1 and s.feature = r.feature`,
    [plantId, CHARTED_STREAMS.map(({ feature }) => feature), gained, lastAt],
  );
}

const ORDER = ["batch", "frame", "inspection", "shipment", "zero_check", "calibration"] as const;

/**
 * Makes a plant of many frames out of a few by COPY: batches, frames, inspections, shipments, zero checks, calibrations and the
 * journal's entries about all of them, which verify as if commands had written them. Readings repeat those of the template.
 *
 * @param owner - may set the sequence of vouching and read files
 * @param ring - key of the ring that the bore gauge is checked in
 */
export async function growPlant(owner: pg.Pool, plantId: string, ring: string, growth: Growth): Promise<void> {
  const db = await owner.connect();
  try {
    const template = await readTemplate(db, plantId, growth.template);
    for (let first = growth.first; first < growth.first + growth.count; first += AT_ONCE) {
      const last = Math.min(first + AT_ONCE, growth.first + growth.count);
      await db.query("begin");
      const { rows } = await db.query<{ order: string }>(`select nextval('vouching_order') as "order"`);
      let order = Number(rows[0]?.order ?? 0);
      const added = new Added();
      for (let batch = first; batch < last; batch += 1)
        copyBatch(added, plantId, template, batch, growth, () => (order += 1));
      await checkGauges(added, db, plantId, ring);
      for (const table of ORDER) await copyRows(db, table, added.rows.get(table) ?? []);
      for (const [chain, entries] of added.entries) await appendEntries(db, plantId, chain, entries);
      await countPoints(db, plantId, added.rows.get("inspection") ?? []);
      await db.query("select setval('vouching_order', $1)", [order]);
      await db.query("commit");
    }
  } finally {
    db.release();
  }
}
