import "server-only";
import type pg from "pg";
import { messageWords, stormWords, type MessageWords } from "@/lib/format/message-words";
import {
  decideMessages,
  STORM_MINUTES,
  type DecidedMessage,
  type EarlierMessage,
  type Reader,
} from "@/lib/quality/messages/decide-messages";
import type { EventFacts } from "@/lib/quality/messages/event-facts";
import type { EventKind } from "@/lib/quality/messages/event-kinds";
import { wants } from "@/lib/quality/messages/subscription";
import { uuidV7 } from "@/lib/schemas/identifier";
import { personColumns } from "../db/columns/person";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { enqueue } from "../jobs/queue";
import { readPlantNamed } from "./compose-mail";
import { plantClock } from "./plant-clock";
import { readFacts, readReasons, type KnownEvent, type OutboxRow } from "./read-facts";
import { readMessageSettings, readSubscriptions } from "./read-settings";
import { MAIL, WEBHOOK } from "./sending-work";

/** Events told in one transaction; what is left is told in the next. */
export const MOST_AT_ONCE = 500;

/** One teller a plant at a time, so that what makes a storm is counted once. */
async function lockTelling(db: pg.ClientBase, plantId: string): Promise<void> {
  await db.query(sql`select pg_advisory_xact_lock(hashtextextended(${`tell ${plantId}`}, 0))`);
}

async function readWaiting(db: pg.ClientBase, plantId: string): Promise<OutboxRow[]> {
  const { rows } = await db.query<OutboxRow>(sql`
    select id, topic, payload, created_at as "createdAt" from outbox
    where plant_id = ${plantId} and delivered_at is null order by number limit ${MOST_AT_ONCE}`);
  return rows;
}

const reader = personColumns("p", { personId: "id" });

async function readReaders(db: pg.ClientBase, plantId: string): Promise<readonly Reader[]> {
  const { rows } = await db.query<RowOf<typeof reader> & { roles: string[]; hasMail: boolean }>(sql`
    select ${reader}, array(select r.role::text from person_role r
        where r.plant_id = p.plant_id and r.person_id = p.id) as roles, p.user_id is not null as "hasMail"
    from person p where p.plant_id = ${plantId} and p.active`);
  return rows;
}

async function readEarlier(db: pg.ClientBase, plantId: string, now: Date): Promise<readonly EarlierMessage[]> {
  const { rows } = await db.query<Omit<EarlierMessage, "kind" | "latestMs"> & { kind: string; latestAt: Date }>(sql`
    select id, kind, is_storm as "isStorm", acknowledged_at is not null as acknowledged, events, latest_at as "latestAt"
    from message where plant_id = ${plantId} and latest_at > ${now}::timestamptz - make_interval(mins => ${STORM_MINUTES})
    order by latest_at desc, id`);
  return rows.map(({ kind, latestAt, ...rest }) => ({
    ...rest,
    kind: kind as EventKind,
    latestMs: latestAt.getTime(),
  }));
}

async function namesBefore(db: pg.ClientBase, plantId: string, messageId: string) {
  const { rows } = await db.query<{ names: string[]; events: number }>(sql`
    select names, events from message where plant_id = ${plantId} and id = ${messageId}`);
  return rows[0] ?? { names: [], events: 0 };
}

type Written = { readonly id: string; readonly names: readonly string[]; readonly events: number } & MessageWords;

/** What a message says now: of its one event, or of the storm that it has become. */
async function wordsOf(
  db: pg.ClientBase,
  plantId: string,
  zone: string,
  decided: DecidedMessage,
  known: ReadonlyMap<string, KnownEvent>,
): Promise<Written> {
  const names = decided.events.flatMap(({ id }) => known.get(id)?.name ?? []);
  if (!decided.isStorm) {
    const facts = known.get(decided.events[0]?.id ?? "")?.facts;
    if (facts === undefined) throw new Error("a message of an event that nobody knows");
    return { id: uuidV7(), names, events: 1, ...messageWords(facts, { zone }) };
  }
  const before = decided.joins === null ? { names: [], events: 0 } : await namesBefore(db, plantId, decided.joins);
  const all = [...new Set([...before.names, ...names])];
  const events = before.events + decided.events.length;
  return { id: decided.joins ?? uuidV7(), names: all, events, ...stormWords(decided.kind, all, events) };
}

async function writeMessage(
  db: pg.ClientBase,
  plantId: string,
  now: Date,
  { kind, isStorm, audience, events, joins, mails }: DecidedMessage,
  words: Written,
): Promise<void> {
  const lines = [...new Set(events.map(({ lineId }) => lineId))];
  const lineId = lines.length === 1 ? (lines[0] ?? null) : null;
  const { id, names, title, happened, todo, path } = words;
  if (joins === null)
    await db.query(sql`
      insert into message (plant_id, id, kind, line_id, events, is_storm, names, title, happened, todo, path, roles, person_ids, at, latest_at)
      values (${plantId}, ${id}, ${kind}, ${lineId}, ${words.events}, ${isStorm}, ${names}, ${title}, ${happened}, ${todo}, ${path},
        ${audience.roles}::text[]::"Role"[], ${audience.personIds}::uuid[], ${now}, ${now})`);
  else
    await db.query(sql`
      update message set events = ${words.events}, names = ${names}, title = ${title}, happened = ${happened}, todo = ${todo},
        latest_at = ${now}, line_id = case when line_id = ${lineId}::uuid then line_id end,
        roles = array(select distinct unnest(roles || ${audience.roles}::text[]::"Role"[])),
        person_ids = array(select distinct unnest(person_ids || ${audience.personIds}::uuid[]))
      where plant_id = ${plantId} and id = ${id}`);
  await db.query(sql`
    update outbox set message_id = ${id} where plant_id = ${plantId} and id = any(${events.map((event) => event.id)}::uuid[])`);
  await db.query(sql`
    insert into mail_delivery (plant_id, id, message_id, person_id, next_at)
    select ${plantId}, m.id, ${id}, m.person_id, m.next_at
    from unnest(${mails.map(() => uuidV7())}::uuid[], ${mails.map((one) => one.personId)}::uuid[],
      ${mails.map((one) => new Date(one.dueMs))}::timestamptz[]) as m(id, person_id, next_at)
    on conflict do nothing`);
}

/** What a program is sent, as Standard Webhooks lays it down: type, timestamp, data. */
function bodyOf({ event, facts }: KnownEvent): string {
  const { kind, ...data } = facts;
  return JSON.stringify({ type: kind, timestamp: new Date(event.atMs).toISOString(), data });
}

/** Programs are told of every event, in a storm too: they do not tire. */
async function writeWebhookDeliveries(
  db: pg.ClientBase,
  plantId: string,
  now: Date,
  events: readonly KnownEvent[],
): Promise<readonly string[]> {
  const { rows: webhooks } = await db.query<{ id: string; kinds: string[]; lineId: string | null }>(sql`
    select id, kinds, line_id as "lineId" from webhook where plant_id = ${plantId} and active order by id`);
  const rows = events.flatMap((one) =>
    webhooks
      .filter(({ kinds, lineId }) => wants({ kinds: kinds as EventKind[], lineId }, one.event))
      .map(({ id: webhookId }) => ({ webhookId, one })),
  );
  if (rows.length === 0) return [];
  await db.query(sql`
    insert into webhook_delivery (plant_id, id, webhook_id, event_id, kind, subject, body, next_at)
    select ${plantId}, d.id, d.webhook_id, d.event_id, d.kind, d.subject, d.body, ${now}
    from unnest(${rows.map(() => uuidV7())}::uuid[], ${rows.map((row) => row.webhookId)}::uuid[],
      ${rows.map(({ one }) => one.event.id)}::uuid[], ${rows.map(({ one }) => one.event.kind)}::text[],
      ${rows.map(({ one }) => one.event.subject)}::text[], ${rows.map(({ one }) => bodyOf(one))}::text[])
      with ordinality as d(id, webhook_id, event_id, kind, subject, body, place)
    order by d.place
    on conflict do nothing`);
  return [...new Set(rows.map((row) => row.webhookId))];
}

/** Adds the reasons to the batches that are told by themselves: for a storm nobody reads hundreds of them. */
async function withReasons(
  db: pg.ClientBase,
  plantId: string,
  waiting: readonly OutboxRow[],
  known: readonly KnownEvent[],
  alone: ReadonlySet<string>,
): Promise<readonly KnownEvent[]> {
  const result: KnownEvent[] = [];
  for (const one of known) {
    const { facts, event } = one;
    const batchId = waiting.find(({ id }) => id === event.id)?.payload["id"];
    if (facts.kind !== "batch.held" || !alone.has(event.id)) result.push(one);
    else {
      const full: EventFacts = { ...facts, reasons: await readReasons(db, plantId, String(batchId)) };
      result.push({ ...one, facts: full });
    }
  }
  return result;
}

/**
 * Tells of the events of a plant that wait: who is told what, and when, is decided and written, nothing is sent. Each event is told
 * once, whoever calls this at once and whenever a process ends in the middle. What is to be sent is added as work of its own.
 *
 * @returns how many were told; as many as are told at once where more may wait
 */
export async function tellEvents(plantId: string, now: Date = new Date()): Promise<number> {
  return inSqlTransaction(async (db) => {
    await lockTelling(db, plantId);
    const waiting = await readWaiting(db, plantId);
    if (waiting.length === 0) return 0;
    const { zone } = await readPlantNamed(db, plantId);
    const settings = await readMessageSettings(db, plantId);
    const found = await readFacts(db, plantId, waiting);
    const decided = decideMessages(
      found.map(({ event }) => event),
      {
        subscriptions: await readSubscriptions(db, plantId),
        readers: await readReaders(db, plantId),
        earlier: await readEarlier(db, plantId, now),
        clock: plantClock(now, zone, settings.shiftStarts),
        mailIsSetUp: settings.mail !== null,
      },
    );
    const alone = new Set(decided.filter((one) => !one.isStorm).flatMap(({ events }) => events.map(({ id }) => id)));
    const known = await withReasons(db, plantId, waiting, found, alone);
    const byId = new Map(known.map((one) => [one.event.id, one]));
    for (const one of decided) await writeMessage(db, plantId, now, one, await wordsOf(db, plantId, zone, one, byId));
    const webhookIds = await writeWebhookDeliveries(db, plantId, now, known);
    await db.query(sql`
      update outbox set delivered_at = ${now}, attempts = attempts + 1
      where plant_id = ${plantId} and id = any(${waiting.map(({ id }) => id)}::uuid[])`);
    if (decided.some(({ mails }) => mails.length > 0)) await enqueue(db, MAIL, { plantId });
    for (const webhookId of webhookIds) await enqueue(db, WEBHOOK, { plantId, webhookId });
    return waiting.length;
  });
}
