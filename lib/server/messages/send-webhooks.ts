import "server-only";
import { retryWait, WEBHOOK_WAITS_MS } from "@/lib/quality/messages/retry-wait";
import { uuidV7 } from "@/lib/schemas/identifier";
import { unseal } from "../base/sealed";
import { getPool } from "../db/client";
import { sql } from "../db/sql";
import { callWebhook, type CallOutcome, type WebhookCall } from "./call-webhook";
import { readMessageSettings } from "./read-settings";
import type { SendingOptions } from "./sending-work";
import { MESSAGES_WORDS } from "./words";

const words = MESSAGES_WORDS.sendWebhooks;

/** Who has taken a call keeps it for so long; if that process dies, another one calls, with the same number. */
const LEASE_MS = 30_000;
const AT_ONCE = 8;

/** What a webhook's secret is sealed for. */
export const webhookSecretPurpose = (webhookId: string): string => `webhook ${webhookId}`;

type Taken = { readonly id: string; readonly eventId: string; readonly body: string; readonly attempts: number };

/** It waits, and nothing of its subject waits before it. */
const isNext = sql`d.state = 'waiting' and not exists (select 1 from webhook_delivery e
  where e.plant_id = d.plant_id and e.webhook_id = d.webhook_id and e.subject = d.subject and e.state = 'waiting'
    and e.number < d.number)`;

/** Takes calls that are due: of each subject only the first that waits, so that a receiver hears in order. */
async function takeDue(plantId: string, webhookId: string, now: Date): Promise<readonly Taken[]> {
  const { rows } = await getPool().query<Taken>(sql`
    with due as (
      select d.id from webhook_delivery d
      where d.plant_id = ${plantId} and d.webhook_id = ${webhookId} and d.next_at <= ${now} and ${isNext}
      order by d.number limit ${AT_ONCE} for update skip locked)
    update webhook_delivery d set attempts = d.attempts + 1, next_at = ${new Date(now.getTime() + LEASE_MS)}
    from due where d.plant_id = ${plantId} and d.id = due.id
    returning d.id, d.event_id as "eventId", d.body, d.attempts`);
  return rows;
}

async function settle(plantId: string, taken: Taken, outcome: CallOutcome, started: Date, now: Date): Promise<void> {
  const wait = outcome.taken ? null : retryWait(WEBHOOK_WAITS_MS, taken.attempts, Math.random());
  const state = outcome.taken ? "sent" : wait === null ? "failed" : "waiting";
  const next = wait === null ? null : new Date(now.getTime() + wait);
  await getPool().query(sql`
    with attempt as (
      insert into webhook_attempt (plant_id, id, delivery_id, at, status, answer, took_ms)
      values (${plantId}, ${uuidV7(started.getTime())}, ${taken.id}, ${started}, ${outcome.status}, ${outcome.answer},
        ${Math.max(0, now.getTime() - started.getTime())}))
    update webhook_delivery set state = ${state}, next_at = coalesce(${next}::timestamptz, next_at),
      sent_at = case when ${state} = 'sent' then ${now}::timestamptz else sent_at end
    where plant_id = ${plantId} and id = ${taken.id} and state = 'waiting'`);
}

type Target = { readonly url: string; readonly secrets: readonly string[]; readonly ownNetwork: boolean };

/** Where a webhook calls and with what it signs; null where it is gone or paused. */
async function readTarget(plantId: string, webhookId: string, now: Date): Promise<Target | null> {
  const { rows } = await getPool().query<{ url: string; sealed: Buffer }>(sql`
    select w.url, s.sealed from webhook w
    join webhook_secret s on s.plant_id = w.plant_id and s.webhook_id = w.id and (s.ends_at is null or s.ends_at > ${now})
    where w.plant_id = ${plantId} and w.id = ${webhookId} and w.active order by s.version desc`);
  const [first] = rows;
  if (first === undefined) return null;
  const { ownNetwork } = await readMessageSettings(getPool(), plantId);
  const secrets = rows.flatMap(({ sealed }) => unseal(sealed, webhookSecretPurpose(webhookId)) ?? []);
  return { url: first.url, secrets, ownNetwork };
}

async function callOne(target: Target, taken: Taken, at: Date): Promise<CallOutcome> {
  if (target.secrets.length === 0) {
    const answer = words.notCalled;
    return { taken: false, status: null, answer };
  }
  const call: WebhookCall = { ...target, eventId: taken.eventId, body: taken.body, at };
  return callWebhook(call);
}

/**
 * Calls a webhook for all that is due, eight at a time. What fails waits longer each time, and with it what comes after it of the same
 * subject; after the last try it is kept as failed until a person decides. Called by several processes at once, each call is made by
 * one of them.
 *
 * @returns when the next call is due; null where none is
 */
export async function sendDueWebhooks(
  plantId: string,
  webhookId: string,
  { clock = () => new Date(), signal }: SendingOptions = {},
): Promise<Date | null> {
  const target = await readTarget(plantId, webhookId, clock());
  if (target === null) return null;
  const callAndSettle = async (taken: Taken): Promise<void> => {
    const started = clock();
    const outcome = await callOne(target, taken, new Date());
    await settle(plantId, taken, outcome, started, clock());
  };
  while (signal?.aborted !== true) {
    const due = await takeDue(plantId, webhookId, clock());
    if (due.length === 0) break;
    await Promise.all(due.map(callAndSettle));
  }
  return nextCallAt(plantId, webhookId);
}

/** When the next call of a webhook is due. */
async function nextCallAt(plantId: string, webhookId: string): Promise<Date | null> {
  const { rows } = await getPool().query<{ next: Date | null }>(sql`
    select min(d.next_at) as next from webhook_delivery d
    where d.plant_id = ${plantId} and d.webhook_id = ${webhookId} and ${isNext}`);
  return rows[0]?.next ?? null;
}
