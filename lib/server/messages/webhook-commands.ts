import "server-only";
import { randomBytes } from "node:crypto";
import type pg from "pg";
import { AppError } from "@/lib/errors";
import { uuidV7 } from "@/lib/schemas/identifier";
import {
  addWebhookSchema,
  changeWebhookSchema,
  resendSchema,
  webhookIdSchema,
  type AddWebhook,
  type ChangeWebhook,
} from "@/lib/schemas/messages";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { parseInput } from "../base/parse-input";
import { seal } from "../base/sealed";
import { sql } from "../db/sql";
import { enqueue } from "../jobs/queue";
import { readMessageSettings } from "./read-settings";
import { webhookSecretPurpose } from "./send-webhooks";
import { WEBHOOK } from "./sending-work";
import { assertLine, changeSending, knownKinds } from "./sending-commands";
import { MESSAGES_WORDS } from "./words";

const words = MESSAGES_WORDS.webhookCommands;

const SECRET_BYTES = 32;
const MOST_WEBHOOKS = 50;
/** Time for whoever runs the receiver to enter the new secret (common practice, no source). */
export const SECRET_OVERLAP_HOURS = 24;

/** A new secret as Standard Webhooks writes it: shown this once, kept encrypted. */
const newSecret = (): string => `whsec_${randomBytes(SECRET_BYTES).toString("base64")}`;

/** What can be known before the call; the address itself is checked at the call. */
function assertUrl(url: string, ownNetwork: boolean): void {
  const { protocol, username, password } = new URL(url);
  const refuse = (message: string): never => {
    throw new AppError("invalid-input", words.addressCannotBeCalled, {
      fields: [{ path: "url", message }],
    });
  };
  if (protocol !== "https:" && protocol !== "http:") refuse("must begin with https://");
  if (protocol === "http:" && !ownNetwork)
    refuse("must begin with https://; http is taken where the plant allows its own network");
  if (username !== "" || password !== "") refuse("must hold no user and no password: they would stand in logs");
}

async function insertSecret(db: pg.ClientBase, plantId: string, webhookId: string, version: number): Promise<string> {
  const secret = newSecret();
  await db.query(sql`
    insert into webhook_secret (plant_id, webhook_id, version, sealed)
    values (${plantId}, ${webhookId}, ${version}, ${seal(secret, webhookSecretPurpose(webhookId))})`);
  return secret;
}

/**
 * Adds a webhook and makes its secret.
 *
 * @throws AppError forbidden; invalid-input; not-found (line); refused beyond 50
 */
export async function addWebhook(
  viewer: Viewer,
  input: AddWebhook,
): Promise<{ readonly id: string; readonly secret: string }> {
  assertMay(viewer, "sending.manage");
  const { name, url, kinds, lineId = null } = parseInput(addWebhookSchema, input);
  const known = knownKinds(kinds);
  const { plantId } = viewer;
  const id = uuidV7();
  let secret = "";
  await changeSending(viewer, "webhook.added", async (db) => {
    assertUrl(url, (await readMessageSettings(db, plantId)).ownNetwork);
    await assertLine(db, plantId, lineId);
    const { rows } = await db.query<{ count: number }>(sql`
      select count(*)::int as count from webhook where plant_id = ${plantId}`);
    if ((rows[0]?.count ?? 0) >= MOST_WEBHOOKS) throw new AppError("refused", words.areWebhooksAlready(MOST_WEBHOOKS));
    await db.query(sql`
      insert into webhook (plant_id, id, name, url, kinds, line_id)
      values (${plantId}, ${id}, ${name}, ${url}, ${known}, ${lineId})`);
    secret = await insertSecret(db, plantId, id, 1);
    return { webhookId: id, name, url, kinds: known, lineId };
  });
  return { id, secret };
}

async function lockWebhook(db: pg.ClientBase, plantId: string, id: string): Promise<{ name: string; version: number }> {
  const { rows } = await db.query<{ name: string; version: number }>(sql`
    select name, version from webhook where plant_id = ${plantId} and id = ${id} for update`);
  const found = rows[0];
  if (found === undefined) throw new AppError("not-found", words.isNoSuchWebhook);
  return found;
}

/**
 * Changes a webhook; paused it keeps what waits and calls nobody, and of what happens meanwhile it is not told.
 *
 * @throws AppError forbidden; invalid-input; not-found; conflict where somebody else changed it since
 */
export async function changeWebhook(viewer: Viewer, input: ChangeWebhook): Promise<void> {
  assertMay(viewer, "sending.manage");
  const { id, version, name, url, kinds, lineId = null, active } = parseInput(changeWebhookSchema, input);
  const known = knownKinds(kinds);
  const { plantId } = viewer;
  await changeSending(viewer, "webhook.changed", async (db) => {
    const before = await lockWebhook(db, plantId, id);
    if (before.version !== version) throw new AppError("conflict", words.somebodyElseChangedWebhookSince);
    assertUrl(url, (await readMessageSettings(db, plantId)).ownNetwork);
    await assertLine(db, plantId, lineId);
    await db.query(sql`
      update webhook set name = ${name}, url = ${url}, kinds = ${known}, line_id = ${lineId}, active = ${active},
        version = version + 1 where plant_id = ${plantId} and id = ${id}`);
    // What waited while it was paused, or for an address that was wrong, is tried at once.
    await db.query(sql`
      update webhook_delivery set next_at = now() where plant_id = ${plantId} and webhook_id = ${id} and state = 'waiting'`);
    if (active) await enqueue(db, WEBHOOK, { plantId, webhookId: id });
    return { webhookId: id, name, url, kinds: known, lineId, active };
  });
}

/**
 * Makes a new secret; for a day calls carry the signatures of both, older ones end now.
 *
 * @returns the secret, shown this once
 * @throws AppError forbidden; not-found
 */
export async function rotateSecret(
  viewer: Viewer,
  input: { readonly id: string },
): Promise<{ readonly secret: string }> {
  assertMay(viewer, "sending.manage");
  const { id } = parseInput(webhookIdSchema, input);
  const { plantId } = viewer;
  const now = new Date();
  let secret = "";
  await changeSending(viewer, "webhook.secret-changed", async (db) => {
    const { name } = await lockWebhook(db, plantId, id);
    const { rows } = await db.query<{ newest: number }>(sql`
      select max(version)::int as newest from webhook_secret where plant_id = ${plantId} and webhook_id = ${id}`);
    const newest = rows[0]?.newest ?? 0;
    const ends = new Date(now.getTime() + SECRET_OVERLAP_HOURS * 3_600_000);
    await db.query(sql`
      update webhook_secret set ends_at = case when version = ${newest} then ${ends}::timestamptz else ${now}::timestamptz end
      where plant_id = ${plantId} and webhook_id = ${id} and (ends_at is null or ends_at > ${now})`);
    secret = await insertSecret(db, plantId, id, newest + 1);
    return { webhookId: id, name, endsAt: ends.toISOString() };
  });
  return { secret };
}

/** Sends one event of a webhook's log again, also one that was taken. @throws AppError forbidden; not-found */
export async function resendDelivery(
  viewer: Viewer,
  input: { readonly id: string },
): Promise<{ readonly webhookId: string }> {
  assertMay(viewer, "sending.manage");
  const { id } = parseInput(resendSchema, input);
  let webhookId = "";
  await changeSending(viewer, "webhook.sent-again", async (db) => {
    const { rows } = await db.query<{ webhookId: string; eventId: string }>(sql`
      update webhook_delivery set state = 'waiting', attempts = 0, next_at = ${new Date()}
      where plant_id = ${viewer.plantId} and id = ${id} returning webhook_id as "webhookId", event_id as "eventId"`);
    const found = rows[0];
    if (found === undefined) throw new AppError("not-found", words.isNoSuchEvent);
    webhookId = found.webhookId;
    await enqueue(db, WEBHOOK, { plantId: viewer.plantId, webhookId });
    return found;
  });
  return { webhookId };
}
