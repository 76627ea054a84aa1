import "server-only";
import { AppError } from "@/lib/errors";
import type { z } from "zod";
import type { acknowledgeSchema } from "@/lib/schemas/messages";
import { assertMay, assertPerson, mayDo } from "../auth/permissions";
import type { PersonViewer, Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { personColumns } from "../db/columns/person";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { MESSAGES_WORDS } from "./words";

const words = MESSAGES_WORDS.inbox;

/** A message as its reader sees it; moments ISO 8601. */
export type InboxMessage = {
  readonly id: string;
  readonly kind: string;
  readonly title: string;
  readonly happened: string;
  readonly todo: string;
  readonly path: string;
  /** Of how many events it tells. */
  readonly events: number;
  readonly at: string;
  readonly latestAt: string;
  readonly acknowledgedAt: string | null;
  readonly acknowledgedBy: string | null;
};

const MOST_OPEN = 200;
const MOST_DONE = 50;

type Row = Omit<InboxMessage, "at" | "latestAt" | "acknowledgedAt"> & {
  at: Date;
  latestAt: Date;
  acknowledgedAt: Date | null;
};

const acknowledger = personColumns("p", { acknowledgedBy: "name" });

/** Whom a message is for: a role of theirs, or them by name. Somebody who is neither does not learn that it is there. */
const isFor = ({ roles, personId }: PersonViewer) =>
  sql`(m.roles && ${roles}::text[]::"Role"[] or ${personId}::uuid = any(m.person_ids))`;

const asListed = ({ at, latestAt, acknowledgedAt, ...rest }: Row): InboxMessage => ({
  ...rest,
  at: at.toISOString(),
  latestAt: latestAt.toISOString(),
  acknowledgedAt: acknowledgedAt?.toISOString() ?? null,
});

/**
 * What is for the viewer: 200 open messages at most, the newest first, and the last 50 that somebody acknowledged.
 *
 * @throws AppError forbidden, for a token too: programs have webhooks
 */
export async function listMessages(
  viewer: Viewer,
): Promise<{ readonly open: readonly InboxMessage[]; readonly done: readonly InboxMessage[] }> {
  assertMay(viewer, "messages.view");
  assertPerson(viewer);
  const { rows } = await getPool().query<Row>(sql`
    (select m.id, m.kind, m.title, m.happened, m.todo, m.path, m.events, m.at, m.latest_at as "latestAt",
      m.acknowledged_at as "acknowledgedAt", null::text as "acknowledgedBy"
    from message m where m.plant_id = ${viewer.plantId} and m.acknowledged_at is null and ${isFor(viewer)}
    order by m.latest_at desc, m.id limit ${MOST_OPEN})
    union all
    (select m.id, m.kind, m.title, m.happened, m.todo, m.path, m.events, m.at, m.latest_at as "latestAt",
      m.acknowledged_at as "acknowledgedAt", p.name as "acknowledgedBy"
    from message m left join person p on p.plant_id = m.plant_id and p.id = m.acknowledged_by_id
    where m.plant_id = ${viewer.plantId} and m.acknowledged_at is not null and ${isFor(viewer)}
    order by m.acknowledged_at desc, m.id limit ${MOST_DONE})`);
  const listed = rows.map(asListed);
  return {
    open: listed.filter((one) => one.acknowledgedAt === null),
    done: listed.filter((one) => one.acknowledgedAt !== null),
  };
}

/** How many messages wait for the viewer; 0 for who may not see any. */
export async function countMessages(viewer: Viewer): Promise<number> {
  if (viewer.kind !== "person" || !mayDo(viewer, "messages.view")) return 0;
  const { rows } = await getPool().query<{ waiting: number }>(sql`
    select count(*)::int as waiting from message m
    where m.plant_id = ${viewer.plantId} and m.acknowledged_at is null and ${isFor(viewer)}`);
  return rows[0]?.waiting ?? 0;
}

/**
 * One message of the viewer's.
 * @throws AppError forbidden; not-found where it is for others
 */
export async function getMessage(viewer: Viewer, id: string): Promise<InboxMessage> {
  assertMay(viewer, "messages.view");
  assertPerson(viewer);
  const { rows } = await getPool().query<
    Omit<Row, "acknowledgedBy"> & { [Name in keyof RowOf<typeof acknowledger>]: string | null }
  >(sql`
    select m.id, m.kind, m.title, m.happened, m.todo, m.path, m.events, m.at, m.latest_at as "latestAt",
      m.acknowledged_at as "acknowledgedAt", ${acknowledger}
    from message m left join person p on p.plant_id = m.plant_id and p.id = m.acknowledged_by_id
    where m.plant_id = ${viewer.plantId} and m.id = ${id} and ${isFor(viewer)}`);
  const row = rows[0];
  if (row === undefined) throw new AppError("not-found", words.isNoSuchMessage);
  return asListed(row);
}

/**
 * Takes a message off the list of everybody whom it is for, and off the mails that have not gone yet. The first who does it is kept;
 * later ones change nothing.
 *
 * @throws AppError forbidden; not-found where it is for others
 */
export async function acknowledgeMessage(
  viewer: Viewer,
  { id }: z.infer<typeof acknowledgeSchema>,
  now: Date = new Date(),
): Promise<void> {
  assertMay(viewer, "messages.acknowledge");
  assertPerson(viewer);
  await inSqlTransaction(async (db) => {
    const { rows } = await db.query<{ done: boolean }>(sql`
      select m.acknowledged_at is not null as done from message m
      where m.plant_id = ${viewer.plantId} and m.id = ${id} and ${isFor(viewer)} for update`);
    const found = rows[0];
    if (found === undefined) throw new AppError("not-found", words.isNoSuchMessageForYou);
    if (found.done) return;
    await db.query(sql`
      update message set acknowledged_at = ${now}, acknowledged_by_id = ${viewer.personId}
      where plant_id = ${viewer.plantId} and id = ${id}`);
    await db.query(sql`
      delete from mail_delivery where plant_id = ${viewer.plantId} and message_id = ${id} and state = 'waiting'`);
  });
}
