import "server-only";
import type pg from "pg";
import { AppError } from "@/lib/errors";
import { isEventKind } from "@/lib/quality/messages/event-kinds";
import { DEFAULT_SUBSCRIPTIONS, type Subscription } from "@/lib/quality/messages/subscription";
import { uuidV7 } from "@/lib/schemas/identifier";
import {
  addSubscriptionSchema,
  changeMailServerSchema,
  changeMessageTimesSchema,
  removeSubscriptionSchema,
  type AddSubscription,
  type ChangeMailServer,
  type ChangeMessageTimes,
  type RemoveSubscription,
} from "@/lib/schemas/messages";
import { assertMay, assertPerson } from "../auth/permissions";
import { actorOf, type Viewer } from "../auth/viewer";
import { parseInput } from "../base/parse-input";
import { seal } from "../base/sealed";
import { getPool } from "../db/client";
import { authUserColumns } from "../db/columns/auth-user";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { enqueue } from "../jobs/queue";
import { appendJournal } from "../journal/append-journal";
import { composeMail, readPlantNamed } from "./compose-mail";
import { sendMail } from "./mail-transport";
import { minutesOf } from "./plant-clock";
import { mailPasswordPurpose, readMessageSettings } from "./read-settings";
import { MAIL } from "./sending-work";
import { MESSAGES_WORDS } from "./words";

const words = MESSAGES_WORDS.sendingCommands;

const mailbox = authUserColumns("u", { address: "email" });

/** One change of how messages are sent, with its entry of the journal; what is secret is not in the payload. */
export async function changeSending(
  viewer: Viewer,
  action: string,
  change: (db: pg.PoolClient) => Promise<Readonly<Record<string, unknown>>>,
): Promise<void> {
  assertMay(viewer, "sending.manage");
  const { plantId } = viewer;
  await inSqlTransaction(async (db) => {
    await db.query(sql`insert into message_setting (plant_id) values (${plantId}) on conflict do nothing`);
    await db.query(sql`select 1 as one from message_setting where plant_id = ${plantId} for update`);
    const payload = await change(db);
    await db.query(sql`update message_setting set version = version + 1 where plant_id = ${plantId}`);
    await appendJournal(db, {
      plantId,
      chain: "setup",
      at: new Date(),
      actor: actorOf(viewer),
      action,
      subjects: [],
      payload,
    });
  });
}

/**
 * Sets the plant's mail server. The password stays where none is given and neither host nor user change: it is not handed to
 * another server by mistake.
 *
 * @throws AppError forbidden; invalid-input, where a password is needed too
 */
export async function changeMailServer(viewer: Viewer, input: ChangeMailServer): Promise<void> {
  assertMay(viewer, "sending.manage");
  const { host, port, security, user, password, from } = parseInput(changeMailServerSchema, input);
  const { plantId } = viewer;
  if (password !== null && user === null)
    throw new AppError("invalid-input", words.passwordNeedsUser, {
      fields: [{ path: "user", message: words.mustBeGivenWithPassword }],
    });
  await changeSending(viewer, "mail-server.changed", async (db) => {
    const { mail: before } = await readMessageSettings(db, plantId);
    const keeps = before !== null && before.host === host && before.user === user;
    const kept = user !== null && keeps ? before.password : null;
    if (user !== null && password === null && kept === null)
      throw new AppError("invalid-input", words.userNeedsPassword, {
        fields: [{ path: "password", message: words.mustBeGivenForNew }],
      });
    const sealed = password === null ? kept : seal(password, mailPasswordPurpose(plantId));
    await db.query(sql`
      update message_setting set mail_host = ${host}, mail_port = ${port}, mail_security = ${security}, mail_user = ${user},
        mail_password = ${sealed}, mail_from = ${from} where plant_id = ${plantId}`);
    return { host, port, security, user, from, passwordChanged: password !== null };
  });
}

/** Takes the mail server away: nothing is mailed any more, what waits is dropped and stays in the application. */
export async function removeMailServer(viewer: Viewer): Promise<void> {
  await changeSending(viewer, "mail-server.removed", async (db) => {
    await db.query(sql`
      update message_setting set mail_host = null, mail_port = null, mail_security = null, mail_user = null, mail_password = null,
        mail_from = null where plant_id = ${viewer.plantId}`);
    const { rowCount } = await db.query(sql`
      delete from mail_delivery where plant_id = ${viewer.plantId} and state = 'waiting'`);
    return { droppedMails: rowCount };
  });
}

/**
 * Sends a mail to the viewer's own address and gives what the mail server said, in words; waits up to a minute.
 *
 * @throws AppError forbidden; refused without a mail server or an address, and where the server did not take the mail
 */
export async function tryMailServer(viewer: Viewer): Promise<string> {
  assertMay(viewer, "sending.manage");
  assertPerson(viewer);
  const { plantId, personId } = viewer;
  const { mail: server } = await readMessageSettings(getPool(), plantId);
  if (server === null) throw new AppError("refused", words.isNoMailServerYet);
  const { rows } = await getPool().query<RowOf<typeof mailbox>>(sql`
    select ${mailbox} from person p join auth_user u on u.id = p.user_id
    where p.plant_id = ${plantId} and p.id = ${personId}`);
  const address = rows[0]?.address;
  if (address === undefined) throw new AppError("refused", words.youHaveNoAddress);
  const plant = await readPlantNamed(getPool(), plantId);
  const at = new Date();
  const mail = composeMail(plant, [
    {
      title: words.mailFromShellgateWorks,
      happened: `${viewer.name} tried the mail server of ${plant.name}.`,
      todo: "Nothing. Messages that somebody subscribed to come like this one.",
      path: "/setup/messages",
      at,
    },
  ]);
  const outcome = await sendMail(plantId, server, {
    ...mail,
    messageId: `<${uuidV7()}@${server.from.slice(server.from.lastIndexOf("@") + 1)}>`,
    to: { name: viewer.name, address },
    from: { name: `Shellgate ${plant.name}`, address: server.from },
    at,
  });
  if (!outcome.sent) throw new AppError("refused", words.noMailWasSent(outcome.answer));
  return words.lookIntoMailboxOf(outcome.answer, address);
}

/** Sets when shifts start, and whether webhooks may call the plant's own network. */
export async function changeMessageTimes(viewer: Viewer, input: ChangeMessageTimes): Promise<void> {
  assertMay(viewer, "sending.manage");
  const { shiftStarts, ownNetwork } = parseInput(changeMessageTimesSchema, input);
  const starts = [...new Set(shiftStarts)].sort();
  await changeSending(viewer, "message-times.changed", async (db) => {
    await db.query(sql`
      update message_setting set shift_starts = ${starts}, own_network = ${ownNetwork} where plant_id = ${viewer.plantId}`);
    return { shiftStarts: starts, ownNetwork };
  });
}

async function insertSubscription(db: pg.ClientBase, plantId: string, id: string, one: Subscription, at: Date) {
  const { whom, kinds, lineId, channel, timing, quiet } = one;
  const [role, personId] = "role" in whom ? [whom.role, null] : [null, whom.personId];
  await db.query(sql`
    insert into subscription (plant_id, id, role, person_id, kinds, line_id, channel, timing, quiet_from, quiet_until, created_at)
    values (${plantId}, ${id}, ${role}::"Role", ${personId}, ${kinds}, ${lineId}, ${channel}, ${timing},
      ${quiet?.from ?? null}, ${quiet?.until ?? null}, ${at})`);
}

/** Before the first change those that hold by themselves become the plant's own, so that nothing else changes by it. */
async function enterDefaults(db: pg.ClientBase, plantId: string): Promise<readonly string[]> {
  const { rows } = await db.query<{ entered: boolean }>(sql`
    select subscriptions_entered as entered from message_setting where plant_id = ${plantId}`);
  if (rows[0]?.entered === true) return [];
  const ids: string[] = [];
  const first = Date.now();
  for (const [place, one] of DEFAULT_SUBSCRIPTIONS.entries()) {
    const id = uuidV7();
    ids.push(id);
    await insertSubscription(db, plantId, id, one, new Date(first + place));
  }
  await db.query(sql`update message_setting set subscriptions_entered = true where plant_id = ${plantId}`);
  return ids;
}

async function assertSubscriber(db: pg.ClientBase, plantId: string, one: Subscription): Promise<void> {
  if ("personId" in one.whom) {
    const { rowCount } = await db.query(sql`
      select 1 as one from person where plant_id = ${plantId} and id = ${one.whom.personId} and active`);
    if (rowCount === 0) throw new AppError("not-found", words.personIsNotOfPlant);
  }
  await assertLine(db, plantId, one.lineId);
}

/** @throws AppError not-found where the line is not the plant's */
export async function assertLine(db: pg.ClientBase, plantId: string, lineId: string | null): Promise<void> {
  if (lineId === null) return;
  const { rowCount } = await db.query(sql`select 1 as one from line where plant_id = ${plantId} and id = ${lineId}`);
  if (rowCount === 0) throw new AppError("not-found", words.lineIsNotKnown);
}

/** @throws AppError invalid-input where a kind is none */
export function knownKinds(kinds: readonly string[]): readonly Subscription["kinds"][number][] {
  const known = kinds.filter(isEventKind);
  if (known.length === kinds.length) return known;
  throw new AppError("invalid-input", words.isNothingCanBeTold, {
    fields: [{ path: "kinds", message: words.mustBeOfThose }],
  });
}

const MOST_SUBSCRIPTIONS = 200;

/** Adds a subscription. @throws AppError forbidden; invalid-input; not-found (person, line); refused beyond 200 */
export async function addSubscription(viewer: Viewer, input: AddSubscription): Promise<void> {
  assertMay(viewer, "sending.manage");
  const parsed = parseInput(addSubscriptionSchema, input);
  const { role, personId, lineId, channel, quietFrom, quietUntil } = parsed;
  const one: Subscription = {
    whom: role === undefined ? { personId: personId ?? "" } : { role },
    kinds: knownKinds(parsed.kinds),
    lineId: lineId ?? null,
    channel,
    // What stands in the application disturbs nobody: it is there at once.
    timing: channel === "app" ? "at once" : parsed.timing,
    quiet:
      channel === "app" || quietFrom === undefined || quietUntil === undefined
        ? null
        : { from: minutesOf(quietFrom), until: minutesOf(quietUntil) },
  };
  await changeSending(viewer, "subscription.added", async (db) => {
    await assertSubscriber(db, viewer.plantId, one);
    await enterDefaults(db, viewer.plantId);
    const { rows } = await db.query<{ count: number }>(sql`
      select count(*)::int as count from subscription where plant_id = ${viewer.plantId}`);
    if ((rows[0]?.count ?? 0) >= MOST_SUBSCRIPTIONS)
      throw new AppError("refused", words.areSubscriptionsAlready(MOST_SUBSCRIPTIONS));
    const id = uuidV7();
    await insertSubscription(db, viewer.plantId, id, one, new Date(Date.now() + DEFAULT_SUBSCRIPTIONS.length));
    return { subscriptionId: id, ...one };
  });
}

/** Takes a subscription away. @throws AppError forbidden; not-found */
export async function removeSubscription(viewer: Viewer, input: RemoveSubscription): Promise<void> {
  assertMay(viewer, "sending.manage");
  const { id, place } = parseInput(removeSubscriptionSchema, input);
  await changeSending(viewer, "subscription.removed", async (db) => {
    const entered = await enterDefaults(db, viewer.plantId);
    const subscriptionId = id ?? entered[place ?? -1] ?? null;
    const { rowCount } = await db.query(sql`
      delete from subscription where plant_id = ${viewer.plantId} and id = ${subscriptionId}`);
    if (rowCount === 0) throw new AppError("not-found", words.isNoSuchSubscriptionAny);
    return { subscriptionId };
  });
}

/** A mail that was given up goes again, at once. @throws AppError forbidden; not-found */
export async function sendMailAgain(viewer: Viewer, { id }: { readonly id: string }): Promise<void> {
  await changeSending(viewer, "mail.sent-again", async (db) => {
    const { rowCount } = await db.query(sql`
      update mail_delivery set state = 'waiting', attempts = 0, next_at = ${new Date()}
      where plant_id = ${viewer.plantId} and id = ${id} and state = 'failed'`);
    if (rowCount === 0) throw new AppError("not-found", words.isNoSuchMailFailed);
    await enqueue(db, MAIL, { plantId: viewer.plantId });
    return { mailId: id };
  });
}
