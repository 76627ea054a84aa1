import { z } from "zod";
import { emailSchema, newPasswordSchema, personNameSchema } from "./people";
import { timeZoneSchema } from "./time-zone";

/** Where to go when no place was asked for. */
export const START_PLACE = "/";

/**
 * A place on this server that a link may lead to after sign-in, or the start: a path, never another site. Backslashes
 * and a second slash are what browsers read as another host.
 */
export function safeNext(next: unknown): string {
  if (typeof next !== "string" || next.length > 1000 || !/^\/(?![/\\])[^\\\p{Cc}]*$/u.test(next)) return START_PLACE;
  const url = new URL(next, "http://plant.invalid");
  if (url.origin !== "http://plant.invalid" || url.pathname.startsWith("//")) return START_PLACE;
  if (/^\/(?:sign-in|new-plant|api)(?:\/|$)/.test(url.pathname)) return START_PLACE;
  return `${url.pathname}${url.search}${url.hash}`;
}

export const signInSchema = z.strictObject({
  email: emailSchema,
  password: z.string().min(1, "must not be empty").max(128, "must have at most 128 characters"),
  next: z.unknown().optional().transform(safeNext),
});

/** What the first administrator says of an empty plant. */
export const setUpPlantSchema = z.strictObject({
  token: z.string().regex(/^[A-Za-z0-9_-]{43}$/, "is not a set-up link of this server"),
  plantName: z.string().trim().min(1, "must not be empty").max(80, "must have at most 80 characters"),
  timeZone: timeZoneSchema,
  name: personNameSchema,
  email: emailSchema,
  password: newPasswordSchema,
});
export type SetUpPlant = z.input<typeof setUpPlantSchema>;
