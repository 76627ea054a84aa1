import "server-only";
import { getPool } from "../db/client";
import { sql } from "../db/sql";

/** The log of webhooks, mails that were sent, and what was told are kept so long; acknowledged messages a year (common practice). */
const LOG_DAYS = 90;
const MESSAGE_DAYS = 365;
/** Rows of a kind that are removed at once. */
const MOST_AT_ONCE = 500;

/** Removes what was sent and told long ago. Evidence is elsewhere: nothing of it refers to these rows. */
export async function forgetOldMessages(plantId: string): Promise<void> {
  const pool = getPool();
  await pool.query(sql`
    with old as (select id from webhook_delivery where plant_id = ${plantId} and state <> 'waiting'
        and created_at < now() - make_interval(days => ${LOG_DAYS}) limit ${MOST_AT_ONCE}),
      calls as (delete from webhook_attempt a using old where a.plant_id = ${plantId} and a.delivery_id = old.id)
    delete from webhook_delivery d using old where d.plant_id = ${plantId} and d.id = old.id`);
  await pool.query(sql`
    with old as (select id from message where plant_id = ${plantId}
        and acknowledged_at < now() - make_interval(days => ${MESSAGE_DAYS}) limit ${MOST_AT_ONCE}),
      mails as (delete from mail_delivery m using old where m.plant_id = ${plantId} and m.message_id = old.id)
    delete from message m using old where m.plant_id = ${plantId} and m.id = old.id`);
  await pool.query(sql`
    with old as (select id from outbox where plant_id = ${plantId}
        and delivered_at < now() - make_interval(days => ${LOG_DAYS}) limit ${MOST_AT_ONCE})
    delete from outbox o using old where o.plant_id = ${plantId} and o.id = old.id`);
}
