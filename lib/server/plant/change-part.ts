import "server-only";
import type pg from "pg";
import { AppError } from "@/lib/errors";
import type { Viewer } from "../auth/viewer";
import { sql } from "../db/sql";
import { changeSetup } from "./change-setup";
import { PLANT_WORDS } from "./words";

const words = PLANT_WORDS.changePart;

type Statement = ReturnType<typeof sql>;

type Values = Readonly<Record<string, string | number | boolean | null>>;

type PartChange = {
  /** Its noun, for sentences. */
  readonly what: string;
  /** Begins the name of the action in the journal. */
  readonly action: string;
  /** Absent for the plant, of which there is one. */
  readonly key?: string;
  /** The version that whoever changes it was looking at. */
  readonly version: number;
  readonly values: Values;
  readonly at: Date;
  /** Locks the row and reads what it says now, under the names of `values`, with its version. */
  readonly read: Statement;
  /** Writes the values and counts the version. */
  readonly write: (db: pg.ClientBase, before: Values) => Promise<Statement>;
  /** Runs before the row is locked; what it gives is called once the values are written, with those that differed. */
  readonly prepare?: (db: pg.ClientBase) => Promise<(changed: Values) => Promise<void>>;
};

/** The values of one side that differ from those of the other. */
function differing(values: Values, others: Values): Values {
  return Object.fromEntries(Object.entries(values).filter(([name, value]) => value !== (others[name] ?? null)));
}

/**
 * Changes one part of the plant as somebody saw it. The journal says what it was before and what it is now; where nothing
 * differs, nothing is written.
 *
 * @throws AppError not-found; conflict where somebody else changed it meanwhile
 */
export async function changePart(viewer: Viewer, change: PartChange): Promise<void> {
  const { what, action, key, version, values, at, read, write, prepare } = change;
  const subject = key === undefined ? what : `${what} ${key}`;
  const payload = (before: Values | null) =>
    before === null
      ? undefined
      : {
          ...(key === undefined ? {} : { key }),
          before: differing(before, values),
          after: differing(values, before),
        };
  await changeSetup(viewer, { action: `${action}.changed`, payload, at }, async (db) => {
    const follow = await prepare?.(db);
    const { rows } = await db.query<Values & { version: number }>(read);
    const [found] = rows;
    if (!found) throw new AppError("not-found", words.isNo(what, key ?? ""));
    const { version: current, ...before } = found;
    if (current !== version) throw new AppError("conflict", words.wasChangedBySomebodyElse(subject));
    const changed = differing(values, before);
    if (Object.keys(changed).length === 0) return null;
    await db.query(await write(db, before));
    await follow?.(changed);
    return before;
  });
}
