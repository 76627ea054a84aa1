"use server";

import { refresh } from "next/cache";
import { z } from "zod";
import { createPersonSchema, deactivatePersonSchema, roleSchema } from "@/lib/schemas/people";
import { createTokenSchema, revokeTokenSchema } from "@/lib/schemas/token";
import { defineAction } from "@/lib/server/action";
import { createPerson, deactivatePerson } from "@/lib/server/people/commands";
import { createToken, revokeToken } from "@/lib/server/tokens/commands";

/** As the form sends it: empty fields are absent ones. */
const personFormSchema = z
  .object({
    name: z.string(),
    roles: z.array(roleSchema).default([]),
    badgeCode: z.string().default(""),
    email: z.string().default(""),
    password: z.string().default(""),
  })
  .transform(({ name, roles, badgeCode, email, password }) => ({
    name,
    roles,
    ...(badgeCode.trim() === "" ? {} : { badgeCode }),
    ...(email.trim() === "" ? {} : { account: { email, password } }),
  }))
  .pipe(createPersonSchema);

export const createPersonAction = defineAction(personFormSchema, async (viewer, input) => {
  await createPerson(viewer, input);
  refresh();
  return null;
});

export const deactivatePersonAction = defineAction(deactivatePersonSchema, async (viewer, input) => {
  await deactivatePerson(viewer, input);
  refresh();
  return null;
});

export const createTokenAction = defineAction(createTokenSchema, async (viewer, input) => {
  const { token } = await createToken(viewer, input);
  refresh();
  return { token };
});

export const revokeTokenAction = defineAction(revokeTokenSchema, async (viewer, input) => {
  await revokeToken(viewer, input);
  refresh();
  return null;
});
