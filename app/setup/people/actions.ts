"use server";

import { refresh } from "next/cache";
import { z } from "zod";
import {
  changeBadgeSchema,
  changeRolesSchema,
  correctPersonSchema,
  decideRoleRequestSchema,
  createPersonSchema,
  deactivatePersonSchema,
  giveSignInSchema,
  roleSchema,
  setPasswordSchema,
} from "@/lib/schemas/people";
import { decideRoleRequest } from "@/lib/server/people/role-requests";
import { createTokenSchema, revokeTokenSchema } from "@/lib/schemas/token";
import { defineAction } from "@/lib/server/doors/action";
import {
  changeBadge,
  changeRoles,
  correctPerson,
  createPerson,
  deactivatePerson,
  giveSignIn,
  setPassword,
} from "@/lib/server/people/commands";
import { createToken, revokeToken } from "@/lib/server/tokens/commands";
import { PEOPLE_WORDS } from "../words/people";

const words = PEOPLE_WORDS.answers;

/** As the form sends it: empty fields are absent ones, and problems of the account stand at its fields. */
const personFormSchema = z
  .object({
    name: z.string(),
    roles: z.array(roleSchema).default([]),
    badgeCode: z.string().default(""),
    email: z.string().default(""),
    password: z.string().default(""),
  })
  .transform(({ name, roles, badgeCode, email, password }, context) => {
    const signsIn = email.trim() !== "" || password !== "";
    const parsed = createPersonSchema.safeParse({
      name,
      roles,
      ...(badgeCode.trim() === "" ? {} : { badgeCode }),
      ...(signsIn ? { account: { email, password } } : {}),
    });
    if (parsed.success) return parsed.data;
    for (const { path, message } of parsed.error.issues)
      context.addIssue({ code: "custom", path: path.filter((part) => part !== "account"), message });
    return z.NEVER;
  });

export const createPersonAction = defineAction(personFormSchema, async (viewer, input) => {
  await createPerson(viewer, input);
  refresh();
  return null;
});

export const correctPersonAction = defineAction(correctPersonSchema, async (viewer, input) => {
  await correctPerson(viewer, input);
  refresh();
  return null;
});

const rolesFormSchema = z
  .object({ personId: z.string(), roles: z.array(roleSchema).default([]), password: z.string().optional() })
  .pipe(changeRolesSchema);

export const changeRolesAction = defineAction(rolesFormSchema, async (viewer, input) => {
  const outcome = await changeRoles(viewer, input);
  refresh();
  return outcome === "asked" ? words.askedFor : null;
});

export const decideRoleRequestAction = defineAction(decideRoleRequestSchema, async (viewer, input) => {
  await decideRoleRequest(viewer, input);
  refresh();
  return null;
});

export const changeBadgeAction = defineAction(changeBadgeSchema, async (viewer, input) => {
  await changeBadge(viewer, input);
  refresh();
  return null;
});

export const setPasswordAction = defineAction(setPasswordSchema, async (viewer, input) => {
  await setPassword(viewer, input);
  refresh();
  return null;
});

export const giveSignInAction = defineAction(giveSignInSchema, async (viewer, input) => {
  await giveSignIn(viewer, input);
  refresh();
  return null;
});

const deactivateFormSchema = z
  .object({ personId: z.string(), sure: z.array(z.literal("yes")).default([]) })
  .refine(({ sure }) => sure.length > 0, { path: ["sure"], message: words.tickIt })
  .transform(({ personId }) => ({ personId }))
  .pipe(deactivatePersonSchema);

export const deactivatePersonAction = defineAction(deactivateFormSchema, async (viewer, input) => {
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
