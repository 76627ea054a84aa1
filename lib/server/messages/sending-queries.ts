import "server-only";
import { AppError } from "@/lib/errors";
import type { Subscription } from "@/lib/quality/messages/subscription";
import type { MailSecurity } from "@/lib/schemas/messages";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { lineColumns } from "../db/columns/line";
import { personColumns } from "../db/columns/person";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { readMessageSettings, readSubscriptions } from "./read-settings";
import { MESSAGES_WORDS } from "./words";

const words = MESSAGES_WORDS.sendingQueries;

/** A mail that waits or failed; moments ISO 8601. */
export type UnsentMail = {
  readonly id: string;
  readonly title: string;
  readonly person: string;
  readonly state: "waiting" | "failed";
  readonly attempts: number;
  readonly nextAt: string;
  readonly answer: string | null;
};

export type WebhookListed = {
  readonly id: string;
  readonly name: string;
  readonly url: string;
  readonly kinds: readonly string[];
  readonly active: boolean;
  readonly waiting: number;
  readonly failed: number;
  readonly lastSentAt: Date | null;
};

/** How a plant sends messages, without what is secret. */
export type Sending = {
  readonly mail: {
    readonly host: string;
    readonly port: number;
    readonly security: MailSecurity;
    readonly user: string | null;
    readonly hasPassword: boolean;
    readonly from: string;
  } | null;
  readonly shiftStarts: readonly string[];
  readonly ownNetwork: boolean;
  readonly subscriptions: readonly (Subscription & { readonly id: string | null })[];
  readonly unsent: readonly UnsentMail[];
  readonly webhooks: readonly WebhookListed[];
  readonly people: readonly { readonly id: string; readonly name: string }[];
  readonly lines: readonly { readonly id: string; readonly name: string }[];
};

const MOST_UNSENT = 50;

const mailed = personColumns("p", { person: "name" });
const reader = personColumns("p", ["id", "name"]);
const line = lineColumns("l", ["id", "name"]);

async function readUnsent(plantId: string): Promise<readonly UnsentMail[]> {
  const { rows } = await getPool().query<
    Omit<UnsentMail, "nextAt" | "person"> & RowOf<typeof mailed> & { nextAt: Date }
  >(sql`
    select d.id, m.title, ${mailed}, d.state as state, d.attempts, d.next_at as "nextAt", d.answer
    from mail_delivery d join message m on m.plant_id = d.plant_id and m.id = d.message_id
    join person p on p.plant_id = d.plant_id and p.id = d.person_id
    where d.plant_id = ${plantId} and d.state <> 'sent' order by d.state, d.next_at, d.id limit ${MOST_UNSENT}`);
  return rows.map(({ nextAt, ...rest }) => ({ ...rest, nextAt: nextAt.toISOString() }));
}

async function readWebhooks(plantId: string): Promise<readonly WebhookListed[]> {
  const { rows } = await getPool().query<WebhookListed>(sql`
    select w.id, w.name, w.url, w.kinds, w.active, n.waiting, n.failed, n."lastSentAt"
    from webhook w cross join lateral (
      select count(*) filter (where d.state = 'waiting')::int as waiting, count(*) filter (where d.state = 'failed')::int as failed,
        max(d.sent_at) as "lastSentAt"
      from webhook_delivery d where d.plant_id = w.plant_id and d.webhook_id = w.id) n
    where w.plant_id = ${plantId} order by w.name, w.id`);
  return rows;
}

/** Everything that the page of messages in Setup shows. @throws AppError forbidden */
export async function getSending(viewer: Viewer): Promise<Sending> {
  assertMay(viewer, "sending.view");
  const { plantId } = viewer;
  const pool = getPool();
  const [settings, subscriptions, unsent, webhooks, people, lines] = await Promise.all([
    readMessageSettings(pool, plantId),
    readSubscriptions(pool, plantId),
    readUnsent(plantId),
    readWebhooks(plantId),
    pool.query<RowOf<typeof reader>>(sql`
      select ${reader} from person p where p.plant_id = ${plantId} and p.active and p.user_id is not null order by p.name, p.id`),
    pool.query<RowOf<typeof line>>(sql`
      select ${line} from line l where l.plant_id = ${plantId} order by l.name, l.id`),
  ]);
  const { mail, shiftStarts, ownNetwork } = settings;
  return {
    mail: mail === null ? null : withoutPassword(mail),
    shiftStarts,
    ownNetwork,
    subscriptions,
    unsent,
    webhooks,
    people: people.rows,
    lines: lines.rows,
  };
}

function withoutPassword({ password, ...mail }: NonNullable<Awaited<ReturnType<typeof readMessageSettings>>["mail"]>) {
  return { ...mail, hasPassword: password !== null };
}

/** One event in a webhook's log, with what came of the last call; moments ISO 8601. */
export type LoggedDelivery = {
  readonly id: string;
  readonly eventId: string;
  readonly kind: string;
  readonly subject: string;
  readonly state: "waiting" | "sent" | "failed";
  readonly attempts: number;
  readonly createdAt: string;
  readonly nextAt: string;
  readonly lastAt: string | null;
  readonly status: number | null;
  readonly answer: string | null;
};

export type WebhookShown = {
  readonly id: string;
  readonly name: string;
  readonly url: string;
  readonly kinds: readonly string[];
  readonly lineId: string | null;
  readonly active: boolean;
  readonly version: number;
  /** When the former secret ends, ISO 8601; null where one holds. */
  readonly formerEndsAt: string | null;
  readonly secretSince: string;
  readonly log: readonly LoggedDelivery[];
};

const MOST_LOGGED = 100;

async function readLog(plantId: string, webhookId: string): Promise<readonly LoggedDelivery[]> {
  type Row = Omit<LoggedDelivery, "createdAt" | "nextAt" | "lastAt"> & {
    createdAt: Date;
    nextAt: Date;
    lastAt: Date | null;
  };
  const { rows } = await getPool().query<Row>(sql`
    select d.id, d.event_id as "eventId", d.kind, d.subject, d.state as state, d.attempts, d.created_at as "createdAt",
      d.next_at as "nextAt", a.at as "lastAt", a.status, a.answer
    from webhook_delivery d left join lateral (select t.at, t.status, t.answer from webhook_attempt t
      where t.plant_id = d.plant_id and t.delivery_id = d.id order by t.at desc, t.id desc limit 1) a on true
    where d.plant_id = ${plantId} and d.webhook_id = ${webhookId} order by d.number desc limit ${MOST_LOGGED}`);
  return rows.map(({ createdAt, nextAt, lastAt, ...rest }) => ({
    ...rest,
    createdAt: createdAt.toISOString(),
    nextAt: nextAt.toISOString(),
    lastAt: lastAt?.toISOString() ?? null,
  }));
}

/** A webhook with its log of the last 100 events. @throws AppError forbidden; not-found */
export async function getWebhook(viewer: Viewer, id: string): Promise<WebhookShown> {
  assertMay(viewer, "sending.view");
  const { plantId } = viewer;
  type Row = Omit<WebhookShown, "formerEndsAt" | "secretSince" | "log"> & { endsAt: Date | null; since: Date };
  const { rows } = await getPool().query<Row>(sql`
    select w.id, w.name, w.url, w.kinds, w.line_id as "lineId", w.active, w.version,
      (select max(s.ends_at) from webhook_secret s where s.plant_id = w.plant_id and s.webhook_id = w.id and s.ends_at > now()) as "endsAt",
      (select max(s.created_at) from webhook_secret s where s.plant_id = w.plant_id and s.webhook_id = w.id) as since
    from webhook w where w.plant_id = ${plantId} and w.id = ${id}`);
  const row = rows[0];
  if (row === undefined) throw new AppError("not-found", words.isNoSuchWebhook);
  const { endsAt, since, ...rest } = row;
  return {
    ...rest,
    formerEndsAt: endsAt?.toISOString() ?? null,
    secretSince: since.toISOString(),
    log: await readLog(plantId, id),
  };
}
