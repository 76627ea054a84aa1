import { z } from "zod";
import { emailSchema, roleSchema } from "./people";
import { uuidSchema } from "./uuid";

/** "tls": encrypted from the first byte; "starttls": encrypted before anything is said; "none": readable on the way. */
export const MAIL_SECURITIES = ["tls", "starttls", "none"] as const;
export type MailSecurity = (typeof MAIL_SECURITIES)[number];

const nothing = (text: string | undefined): string | null => (text === undefined || text === "" ? null : text);
const oneLine = (most: number) =>
  z
    .string()
    .trim()
    .min(1, "must not be empty")
    .max(most, `must have at most ${most} characters`)
    .regex(/^\P{Cc}*$/u, "must be one line without control characters");

/** A name in the domain name system, or an address. */
const hostSchema = z
  .string()
  .trim()
  .max(253)
  .regex(
    /^[A-Za-z0-9]([A-Za-z0-9._-]*[A-Za-z0-9])?$|^[0-9A-Fa-f:.]+$/,
    "must be a name such as mail.example.org or an address",
  );

export const changeMailServerSchema = z.strictObject({
  host: hostSchema,
  port: z.int().min(1, "must be 1 to 65535").max(65_535, "must be 1 to 65535"),
  security: z.enum(MAIL_SECURITIES),
  user: z
    .string()
    .trim()
    .max(200)
    .regex(/^\P{Cc}*$/u, "must be one line")
    .optional()
    .transform(nothing),
  /** Absent or empty: the one that is there stays, where the user does. */
  password: z
    .string()
    .max(500)
    .regex(/^\P{Cc}*$/u, "must be one line")
    .optional()
    .transform(nothing),
  from: emailSchema,
});
export type ChangeMailServer = z.input<typeof changeMailServerSchema>;

const timeSchema = z
  .string()
  .trim()
  .regex(/^([01]\d|2[0-3]):[0-5]\d$/, "must be a time of the day such as 06:00");

export const changeMessageTimesSchema = z.strictObject({
  shiftStarts: z.array(timeSchema).min(1, "must be given").max(12, "must be at most 12 times"),
  ownNetwork: z.boolean(),
});
export type ChangeMessageTimes = z.input<typeof changeMessageTimesSchema>;

/** Names of events come from lib/quality, which knows them; here they are texts. */
const kindsSchema = z
  .array(z.string().max(40))
  .min(1, "choose at least one")
  .max(50)
  .transform((kinds) => [...new Set(kinds)]);

export const addSubscriptionSchema = z
  .strictObject({
    role: roleSchema.optional(),
    personId: uuidSchema.optional(),
    kinds: kindsSchema,
    lineId: uuidSchema.optional(),
    channel: z.enum(["app", "mail"]),
    timing: z.enum(["at once", "shift start"]),
    quietFrom: timeSchema.optional(),
    quietUntil: timeSchema.optional(),
  })
  .refine(({ role, personId }) => (role === undefined) !== (personId === undefined), {
    path: ["whom"],
    message: "must be a role or a person",
  })
  .refine(({ quietFrom, quietUntil }) => (quietFrom === undefined) === (quietUntil === undefined), {
    path: ["quietUntil"],
    message: "give both times, or none",
  });
export type AddSubscription = z.input<typeof addSubscriptionSchema>;

/** Absent id: one of those that hold before anything is entered, by its place. */
export const removeSubscriptionSchema = z.strictObject({
  id: uuidSchema.optional(),
  place: z.int().min(0).max(100).optional(),
});
export type RemoveSubscription = z.input<typeof removeSubscriptionSchema>;

export const acknowledgeSchema = z.strictObject({ id: uuidSchema });

const webhookFields = {
  name: oneLine(80),
  url: z.string().trim().max(2000).pipe(z.url("must be an address such as https://program.example.org/hook")),
  kinds: kindsSchema,
  lineId: uuidSchema.optional(),
};
export const addWebhookSchema = z.strictObject(webhookFields);
export type AddWebhook = z.input<typeof addWebhookSchema>;

export const changeWebhookSchema = z.strictObject({
  id: uuidSchema,
  version: z.int().min(0),
  ...webhookFields,
  active: z.boolean(),
});
export type ChangeWebhook = z.input<typeof changeWebhookSchema>;

export const webhookIdSchema = z.strictObject({ id: uuidSchema });
export const resendSchema = z.strictObject({ id: uuidSchema });
