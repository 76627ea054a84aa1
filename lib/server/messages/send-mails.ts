import "server-only";
import { MAIL_WAITS_MS, retryWait } from "@/lib/quality/messages/retry-wait";
import { getPool } from "../db/client";
import { personColumns } from "../db/columns/person";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { composeMail, readPlantNamed, type PlantNamed, type ToMail } from "./compose-mail";
import type { SendingOptions } from "./sending-work";
import { MAIL_DEADLINE_MS, sendMail, type MailOutcome } from "./mail-transport";
import { readMessageSettings, type MailServer } from "./read-settings";

/** Who has taken a mail keeps it for so long; if that process dies, another one sends it, with the same number. */
const LEASE_MS = 2 * MAIL_DEADLINE_MS;
/** Messages in one mail at most. */
const MOST_IN_ONE = 50;

const recipient = personColumns("p", ["name"]);

type Taken = ToMail &
  RowOf<typeof recipient> & {
    readonly id: string;
    readonly attempts: number;
    readonly personId: string;
    readonly address: string | null;
  };

/** Takes all that is due for one person: what waited for the same moment is one mail. */
async function takeDue(plantId: string, now: Date): Promise<readonly Taken[]> {
  const { rows } = await getPool().query<Taken>(sql`
    with next as (
      select person_id from mail_delivery where plant_id = ${plantId} and state = 'waiting' and next_at <= ${now}
      order by next_at, id limit 1),
    due as (
      select d.id from mail_delivery d join next n on n.person_id = d.person_id
      where d.plant_id = ${plantId} and d.state = 'waiting' and d.next_at <= ${now}
      order by d.id limit ${MOST_IN_ONE} for update of d skip locked),
    taken as (
      update mail_delivery d set attempts = d.attempts + 1, next_at = ${new Date(now.getTime() + LEASE_MS)}
      from due where d.plant_id = ${plantId} and d.id = due.id
      returning d.id, d.attempts, d.message_id, d.person_id)
    select t.id, t.attempts, t.person_id as "personId", m.title, m.happened, m.todo, m.path, m.latest_at as at, ${recipient},
      case when p.active then u.email end as address
    from taken t
    join message m on m.plant_id = ${plantId} and m.id = t.message_id
    join person p on p.plant_id = ${plantId} and p.id = t.person_id
    left join auth_user u on u.id = p.user_id
    order by m.at, t.id`);
  return rows;
}

async function settle(plantId: string, taken: readonly Taken[], outcome: MailOutcome, now: Date): Promise<Date | null> {
  const ids = taken.map(({ id }) => id);
  const tries = Math.max(...taken.map(({ attempts }) => attempts));
  const wait = outcome.sent || outcome.permanent ? null : retryWait(MAIL_WAITS_MS, tries, Math.random());
  const state = outcome.sent ? "sent" : wait === null ? "failed" : "waiting";
  const next = wait === null ? null : new Date(now.getTime() + wait);
  await getPool().query(sql`
    update mail_delivery set state = ${state}, answer = ${outcome.answer}, next_at = coalesce(${next}::timestamptz, next_at),
      sent_at = case when ${state} = 'sent' then ${now}::timestamptz end
    where plant_id = ${plantId} and id = any(${ids}::uuid[]) and state = 'waiting'`);
  return next;
}

/** Where mail numbers come from: the part of the sender's address behind the at sign, as RFC 5322, 3.6.4 advises. */
const domainOf = (address: string): string => address.slice(address.lastIndexOf("@") + 1);

async function sendTaken(
  plantId: string,
  server: MailServer,
  plant: PlantNamed,
  taken: readonly Taken[],
  now: Date,
): Promise<MailOutcome> {
  const [first] = taken;
  if (first === undefined || first.address === null)
    return { sent: false, permanent: true, answer: "This person has no sign-in any more, and so no address." };
  const number = taken.map(({ id }) => id).sort()[0] ?? first.id;
  return sendMail(plantId, server, {
    ...composeMail(plant, taken),
    messageId: `<${number}@${domainOf(server.from)}>`,
    to: { name: first.name, address: first.address },
    from: { name: `Shellgate ${plant.name}`, address: server.from },
    at: now,
  });
}

/**
 * Sends the mails of a plant that are due, one after the other. What fails waits longer each time; after the last try it is kept as
 * failed until a person decides. Called by several processes at once, each mail is sent by one of them.
 *
 * @returns when the next try is due; null where none is
 */
export async function sendDueMails(
  plantId: string,
  { clock = () => new Date(), signal }: SendingOptions = {},
): Promise<Date | null> {
  const { mail: server } = await readMessageSettings(getPool(), plantId);
  if (server === null) return null;
  const plant = await readPlantNamed(getPool(), plantId);
  while (signal?.aborted !== true) {
    const taken = await takeDue(plantId, clock());
    if (taken.length === 0) break;
    const outcome = await sendTaken(plantId, server, plant, taken, clock());
    await settle(plantId, taken, outcome, clock());
  }
  return nextMailAt(plantId);
}

/** When the next mail of a plant is due. */
async function nextMailAt(plantId: string): Promise<Date | null> {
  const { rows } = await getPool().query<{ next: Date | null }>(sql`
    select min(next_at) as next from mail_delivery where plant_id = ${plantId} and state = 'waiting'`);
  return rows[0]?.next ?? null;
}
