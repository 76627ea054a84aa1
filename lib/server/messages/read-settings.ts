import "server-only";
import type pg from "pg";
import { isEventKind } from "@/lib/quality/messages/event-kinds";
import {
  DEFAULT_SUBSCRIPTIONS,
  type Channel,
  type Subscription,
  type Timing,
} from "@/lib/quality/messages/subscription";
import type { MailSecurity } from "@/lib/schemas/messages";
import { sql } from "../db/sql";

/** How a plant's mail goes out. */
export type MailServer = {
  readonly host: string;
  readonly port: number;
  readonly security: MailSecurity;
  readonly user: string | null;
  /** Sealed for `mailPasswordPurpose`. */
  readonly password: Buffer | null;
  readonly from: string;
};

export type MessageSettings = {
  readonly shiftStarts: readonly string[];
  readonly ownNetwork: boolean;
  readonly mail: MailServer | null;
  readonly version: number;
};

type SettingRow = {
  shiftStarts: string[];
  ownNetwork: boolean;
  host: string | null;
  port: number | null;
  security: MailSecurity | null;
  user: string | null;
  password: Buffer | null;
  from: string | null;
  version: number;
};

export const DEFAULT_SHIFT_STARTS: readonly string[] = ["06:00"];

/** What a mail server's password is sealed for. */
export const mailPasswordPurpose = (plantId: string): string => `mail of ${plantId}`;

/** How a plant sends messages; as it is before anybody entered something, where nobody did. */
export async function readMessageSettings(db: pg.ClientBase | pg.Pool, plantId: string): Promise<MessageSettings> {
  const { rows } = await db.query<SettingRow>(sql`
    select shift_starts as "shiftStarts", own_network as "ownNetwork", mail_host as host, mail_port as port,
      mail_security as security, mail_user as "user", mail_password as password, mail_from as "from", version
    from message_setting where plant_id = ${plantId}`);
  const row = rows[0];
  if (row === undefined) return { shiftStarts: DEFAULT_SHIFT_STARTS, ownNetwork: false, mail: null, version: 0 };
  const { host, port, security, user, password, from, ...rest } = row;
  const isWhole = host !== null && port !== null && security !== null && from !== null;
  return { ...rest, mail: isWhole ? { host, port, security, user, password, from } : null };
}

type SubscriptionRow = {
  id: string;
  role: string | null;
  personId: string | null;
  kinds: string[];
  lineId: string | null;
  channel: Channel;
  timing: Timing;
  quietFrom: number | null;
  quietUntil: number | null;
};

/** Who is told what: the plant's own subscriptions, or, where it has entered none, those that hold until then, without an id. */
export async function readSubscriptions(
  db: pg.ClientBase | pg.Pool,
  plantId: string,
): Promise<readonly (Subscription & { readonly id: string | null })[]> {
  const { rows: entered } = await db.query<{ entered: boolean }>(sql`
    select subscriptions_entered as entered from message_setting where plant_id = ${plantId}`);
  if (entered[0]?.entered !== true) return DEFAULT_SUBSCRIPTIONS.map((one) => ({ ...one, id: null }));
  const { rows } = await db.query<SubscriptionRow>(sql`
    select id, role::text as role, person_id as "personId", kinds, line_id as "lineId", channel, timing,
      quiet_from as "quietFrom", quiet_until as "quietUntil"
    from subscription where plant_id = ${plantId} order by created_at, id`);
  return rows.map(({ id, role, personId, kinds, quietFrom, quietUntil, ...rest }) => ({
    ...rest,
    id,
    whom: role === null ? { personId: personId ?? "" } : { role },
    kinds: kinds.filter(isEventKind),
    quiet: quietFrom === null || quietUntil === null ? null : { from: quietFrom, until: quietUntil },
  }));
}
