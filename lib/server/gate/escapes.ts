import "server-only";
import { AppError } from "@/lib/errors";
import type { CloseEscapes } from "@/lib/schemas/decision";
import { assertMay } from "../auth/permissions";
import { assertSigned } from "../auth/signature";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { batchColumns } from "../db/columns/batch";
import { decisionColumns } from "../db/columns/decision";
import { frameColumns } from "../db/columns/frame";
import { supplierColumns } from "../db/columns/supplier";
import { type RowOf, together } from "../db/columns/table-columns";
import { nameThen } from "../db/name-then";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { isRepeated, recordDecision } from "./commands";

const NOT_OPEN =
  "One of these escapes was closed meanwhile, or is not known. Nothing was changed. Load the page again and choose those that are open.";

/** A shipped frame whose evidence turned bad afterwards. */
export type EscapeItem = {
  readonly id: string;
  readonly serial: string;
  readonly batch: string;
  readonly supplier: string;
  readonly shippedAt: string | null;
  readonly shippedBy: string | null;
  readonly reason: string;
  readonly openedAt: string;
};

/** Escapes that somebody closed in one act. */
export type ClosedEscapes = {
  readonly id: string;
  readonly serials: readonly string[];
  readonly told: string;
  readonly grounds: string;
  readonly person: string;
  readonly at: string;
};

const escaped = together(
  frameColumns("f", ["serial", "shippedAt"]),
  batchColumns("b", { batch: "key" }),
  supplierColumns("s", { supplier: "name" }),
);
type EscapeRow = RowOf<typeof escaped> & { id: string; reason: string; openedAt: Date; shippedBy: string | null };

const MOST_OPEN = 2000;
const MOST_CLOSED = 50;

/** Open escapes, oldest reason first, then by serial. */
export async function listEscapes(viewer: Viewer): Promise<readonly EscapeItem[]> {
  assertMay(viewer, "gate.view");
  const { rows } = await getPool().query<EscapeRow>(sql`
    select e.id, e.reason, e.opened_at as "openedAt", ${escaped},
      (select ${nameThen("p", "h.at")} from shipment h join person p on p.plant_id = h.plant_id and p.id = h.person_id
        where h.plant_id = f.plant_id and h.serial = f.serial and h.answer = 'shipped' order by h.at desc limit 1) as "shippedBy"
    from escape e
    join frame f on f.plant_id = e.plant_id and f.id = e.frame_id
    join batch b on b.plant_id = f.plant_id and b.id = f.batch_id
    join supplier s on s.plant_id = b.plant_id and s.id = b.supplier_id
    where e.plant_id = ${viewer.plantId} and e.closed_at is null
    order by e.opened_at, e.reason, f.serial limit ${MOST_OPEN}`);
  return rows.map(({ shippedAt, openedAt, ...row }) => ({
    ...row,
    shippedAt: shippedAt?.toISOString() ?? null,
    openedAt: openedAt.toISOString(),
  }));
}

/** Frames with an open escape. */
export async function countEscapes(viewer: Viewer): Promise<number> {
  assertMay(viewer, "gate.view");
  const { rows } = await getPool().query<{ count: number }>(sql`
    select count(distinct frame_id)::int as count from escape where plant_id = ${viewer.plantId} and closed_at is null`);
  return rows[0]?.count ?? 0;
}

const closing = decisionColumns("d", ["id", "grounds", "at", "evidence"]);

/** The newest acts that closed escapes. */
export async function listClosedEscapes(viewer: Viewer): Promise<readonly ClosedEscapes[]> {
  assertMay(viewer, "gate.view");
  const { rows } = await getPool().query<RowOf<typeof closing> & { person: string; serials: string[] }>(sql`
    select ${closing}, ${nameThen("p", "d.at")} as person,
      array(select f.serial from frame f where f.plant_id = d.plant_id and f.id = any(d.frame_ids) order by f.serial) as serials
    from decision d join person p on p.plant_id = d.plant_id and p.id = d.person_id
    where d.plant_id = ${viewer.plantId} and d.kind = 'close_escapes' order by d.at desc, d.id limit ${MOST_CLOSED}`);
  return rows.map(({ evidence, at, ...row }) => ({
    ...row,
    told: typeof evidence === "object" && evidence !== null && "told" in evidence ? String(evidence.told) : "",
    at: at.toISOString(),
  }));
}

const shippedFrame = frameColumns("f", ["serial"]);

/**
 * Closes escapes: says who was told and what was done, signed with the password. The same act sent again changes nothing.
 *
 * @throws AppError forbidden, sign-in-refused; conflict where one of them is not open any more
 */
export async function closeEscapes(viewer: Viewer, input: CloseEscapes, now: Date = new Date()): Promise<void> {
  assertMay(viewer, "gate.decide");
  const signer = await assertSigned(viewer, input.password);
  const { plantId } = signer;
  const { id, grounds, told } = input;
  await inSqlTransaction(async (db) => {
    const { rows } = await db.query<
      RowOf<typeof shippedFrame> & { escape: string; frameId: string; reason: string; isOpen: boolean }
    >(sql`
      select e.id as escape, e.frame_id as "frameId", e.reason, e.closed_at is null as "isOpen", ${shippedFrame}
      from escape e join frame f on f.plant_id = e.plant_id and f.id = e.frame_id
      where e.plant_id = ${plantId} and e.id = any(${input.escapes}::uuid[]) order by e.id for update of e`);
    const serials = [...new Set(rows.map(({ serial }) => serial))].sort();
    if (await isRepeated(db, plantId, { id, kind: "close_escapes", batchId: null, grounds, serials, said: { told } }))
      return;
    if (rows.length < new Set(input.escapes).size || rows.some(({ isOpen }) => !isOpen))
      throw new AppError("conflict", NOT_OPEN);
    await db.query(sql`
      update escape set closed_at = ${now} where plant_id = ${plantId} and id = any(${rows.map(({ escape }) => escape)}::uuid[])`);
    const draft = {
      id,
      kind: "close_escapes" as const,
      batchId: null,
      frameIds: [...new Set(rows.map(({ frameId }) => frameId))],
      grounds,
      evidence: { told, escapes: rows.map(({ escape, serial, reason }) => ({ id: escape, serial, reason })) },
      expiresAt: null,
    };
    await recordDecision(db, signer, draft, "escapes.closed", { serials, told }, now);
  });
}
