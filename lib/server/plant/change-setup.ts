import "server-only";
import type pg from "pg";
import { AppError } from "@/lib/errors";
import { actorOf, type Viewer } from "../auth/viewer";
import { readDatabaseRefusal } from "../db/prisma-errors";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { forgetReferenceData } from "../evidence/reference-data";
import { appendJournal, type JournalSubject } from "../journal/append-journal";
import { PLANT_WORDS } from "./words";

const words = PLANT_WORDS.changeSetup;

type Change<T> = {
  readonly action: string;
  /** What the journal keeps of it, or how that follows from what was written; undefined where nothing was changed after all. */
  readonly payload: ((written: T) => unknown) | Readonly<Record<string, unknown>>;
  readonly at: Date;
  /** The rows that the journal vouches for by this entry. */
  readonly subjects?: (db: pg.PoolClient, written: T) => Promise<readonly JournalSubject[]>;
  /** The field of the input that is to blame when the key is taken. */
  readonly keyField?: string;
};

/** One change of the set-up in one transaction, with its journal entry. A key that is taken is a conflict in words. */
export async function changeSetup<T>(
  viewer: Viewer,
  what: Change<T>,
  write: (db: pg.PoolClient) => Promise<T>,
): Promise<T> {
  try {
    const result = await inSqlTransaction(async (db) => {
      const written = await write(db);
      const payload = typeof what.payload === "function" ? what.payload(written) : what.payload;
      if (payload === undefined) return written;
      await appendJournal(db, {
        plantId: viewer.plantId,
        chain: "setup",
        at: what.at,
        actor: actorOf(viewer),
        action: what.action,
        subjects: (await what.subjects?.(db, written)) ?? [],
        payload,
      });
      return written;
    });
    forgetReferenceData(viewer.plantId);
    return result;
  } catch (error) {
    if (readDatabaseRefusal(error)?.kind !== "unique") throw error;
    throw new AppError("conflict", words.isOneWithKeyAlready, {
      fields: [{ path: what.keyField ?? "key", message: words.isTakenAlready }],
      cause: error,
    });
  }
}

/** Id of what has this key in the plant. @throws AppError not-found */
export async function idOf(db: pg.ClientBase, plantId: string, table: KeyedTable, key: string): Promise<string> {
  const { rows } = await db.query<{ id: string }>(KEYED[table](plantId, key));
  const row = rows[0];
  if (!row) throw new AppError("not-found", words.isNo(table.replaceAll("_", " "), key));
  return row.id;
}

/**
 * Id of what has this key in the plant and is in use.
 *
 * @param field - the field of the input that names it
 * @throws AppError not-found; refused where it is out of use
 */
export async function idInUse(
  db: pg.ClientBase,
  plantId: string,
  table: UsedTable,
  { key, field }: { readonly key: string; readonly field: string },
): Promise<string> {
  const id = await idOf(db, plantId, table, key);
  const { rows } = await db.query<{ active: boolean }>(ACTIVE[table](plantId, id));
  if (rows[0]?.active === true) return id;
  const what = table.replaceAll("_", " ");
  throw new AppError("refused", words.isOutOfUse(what, key), {
    fields: [{ path: field, message: words.isOutOfUseLabel }],
  });
}

/** Locked, so that it does not go out of use before what names it is written. */
const ACTIVE = {
  line: (plantId: string, id: string) =>
    sql`select active from line where plant_id = ${plantId} and id = ${id} for share`,
  station: (plantId: string, id: string) => sql`
    select s.active and l.active as active from station s join line l on l.plant_id = s.plant_id and l.id = s.line_id
    where s.plant_id = ${plantId} and s.id = ${id} for share`,
  supplier: (plantId: string, id: string) =>
    sql`select active from supplier where plant_id = ${plantId} and id = ${id} for share`,
  frame_model: (plantId: string, id: string) =>
    sql`select active from frame_model where plant_id = ${plantId} and id = ${id} for share`,
  setting_ring: (plantId: string, id: string) =>
    sql`select active from setting_ring where plant_id = ${plantId} and id = ${id} for share`,
} as const;
type UsedTable = keyof typeof ACTIVE;

const KEYED = {
  line: (plantId: string, key: string) => sql`select id from line where plant_id = ${plantId} and key = ${key}`,
  operation: (plantId: string, key: string) =>
    sql`select id from operation where plant_id = ${plantId} and key = ${key}`,
  setting_ring: (plantId: string, key: string) =>
    sql`select id from setting_ring where plant_id = ${plantId} and key = ${key}`,
  gauge: (plantId: string, key: string) => sql`select id from gauge where plant_id = ${plantId} and key = ${key}`,
  station: (plantId: string, key: string) => sql`select id from station where plant_id = ${plantId} and key = ${key}`,
  supplier: (plantId: string, key: string) => sql`select id from supplier where plant_id = ${plantId} and key = ${key}`,
  drawing: (plantId: string, key: string) => sql`select id from drawing where plant_id = ${plantId} and key = ${key}`,
  frame_model: (plantId: string, key: string) =>
    sql`select id from frame_model where plant_id = ${plantId} and key = ${key}`,
  measuring_plan: (plantId: string, key: string) =>
    sql`select id from measuring_plan where plant_id = ${plantId} and key = ${key}`,
} as const;
type KeyedTable = keyof typeof KEYED;
