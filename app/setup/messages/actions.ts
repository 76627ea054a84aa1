"use server";

import { refresh } from "next/cache";
import { z } from "zod";
import { MAIL_SECURITIES, removeSubscriptionSchema, resendSchema, webhookIdSchema } from "@/lib/schemas/messages";
import { ROLES, type Role } from "@/lib/schemas/people";
import { seenVersion, typedNumberSchema } from "@/lib/schemas/typed-number";
import { defineAction } from "@/lib/server/doors/action";
import {
  addSubscription,
  changeMailServer,
  changeMessageTimes,
  removeMailServer,
  removeSubscription,
  sendMailAgain,
  tryMailServer,
} from "@/lib/server/messages/sending-commands";
import { addWebhook, changeWebhook, resendDelivery, rotateSecret } from "@/lib/server/messages/webhook-commands";
import { EVERY_LINE } from "./_components/subscription-words";

const mailServerForm = z.object({
  host: z.string(),
  port: typedNumberSchema,
  security: z.enum(MAIL_SECURITIES),
  user: z.string(),
  password: z.string(),
  from: z.string(),
});

export const changeMailServerAction = defineAction(mailServerForm, async (viewer, input) => {
  await changeMailServer(viewer, input);
  refresh();
  return null;
});

const nothingSchema = z.object({});

export const removeMailServerAction = defineAction(nothingSchema, async (viewer) => {
  await removeMailServer(viewer);
  refresh();
  return null;
});

export const tryMailServerAction = defineAction(nothingSchema, (viewer) => tryMailServer(viewer));

/** Times as they are typed: "06:00, 14:00". */
const timesForm = z.object({ shiftStarts: z.string(), ownNetwork: z.array(z.literal("yes")).default([]) });

export const changeMessageTimesAction = defineAction(timesForm, async (viewer, { shiftStarts, ownNetwork }) => {
  const starts = shiftStarts.split(/[\s,;]+/).filter((text) => text !== "");
  await changeMessageTimes(viewer, { shiftStarts: starts, ownNetwork: ownNetwork.length > 0 });
  refresh();
  return null;
});

const isRole = (text: string): text is Role => (ROLES as readonly string[]).includes(text);

const subscriptionForm = z.object({
  whom: z.string().min(1, "choose a role or a person"),
  kinds: z.array(z.string()).default([]),
  lineId: z.string(),
  how: z.enum(["app", "mail at once", "mail shift start"]),
  quietFrom: z.string().trim(),
  quietUntil: z.string().trim(),
});

export const addSubscriptionAction = defineAction(subscriptionForm, async (viewer, input) => {
  const { whom, kinds, lineId, how, quietFrom, quietUntil } = input;
  await addSubscription(viewer, {
    ...(isRole(whom) ? { role: whom } : { personId: whom }),
    kinds,
    channel: how === "app" ? "app" : "mail",
    timing: how === "mail shift start" ? "shift start" : "at once",
    ...(lineId === EVERY_LINE ? {} : { lineId }),
    ...(quietFrom === "" ? {} : { quietFrom }),
    ...(quietUntil === "" ? {} : { quietUntil }),
  });
  refresh();
  return null;
});

export const removeSubscriptionAction = defineAction(removeSubscriptionSchema, async (viewer, input) => {
  await removeSubscription(viewer, input);
  refresh();
  return null;
});

export const sendMailAgainAction = defineAction(resendSchema, async (viewer, input) => {
  await sendMailAgain(viewer, input);
  refresh();
  return null;
});

const webhookForm = z.object({
  name: z.string(),
  url: z.string(),
  kinds: z.array(z.string()).default([]),
  lineId: z.string(),
});

export const addWebhookAction = defineAction(webhookForm, async (viewer, { lineId, ...rest }) => {
  const { secret } = await addWebhook(viewer, { ...rest, ...(lineId === EVERY_LINE ? {} : { lineId }) });
  refresh();
  return { secret };
});

const changeWebhookForm = webhookForm.extend({
  id: z.string(),
  version: seenVersion,
  active: z.array(z.literal("yes")).default([]),
});

export const changeWebhookAction = defineAction(changeWebhookForm, async (viewer, { lineId, active, ...rest }) => {
  await changeWebhook(viewer, { ...rest, active: active.length > 0, ...(lineId === EVERY_LINE ? {} : { lineId }) });
  refresh();
  return null;
});

export const rotateSecretAction = defineAction(webhookIdSchema, async (viewer, input) => {
  const { secret } = await rotateSecret(viewer, input);
  refresh();
  return { secret };
});

export const resendDeliveryAction = defineAction(resendSchema, async (viewer, input) => {
  await resendDelivery(viewer, input);
  refresh();
  return null;
});
