import { z } from "zod";
import { uuidSchema } from "./uuid";

/** What a person may be in a plant; one person may hold several. */
export const ROLES = ["inspector", "engineer", "supplier_manager", "dock", "auditor", "administrator"] as const;
export type Role = (typeof ROLES)[number];

export const roleSchema = z.enum(ROLES);

/** At least twelve characters: length is what makes a password hard to guess. */
export const newPasswordSchema = z
  .string()
  .min(12, "must have at least 12 characters")
  .max(128, "must have at most 128 characters");

const rolesSchema = z
  .array(roleSchema)
  .min(1, "must name at least one role")
  .transform((roles) => [...new Set(roles)]);

export const personNameSchema = z
  .string()
  .trim()
  .min(1, "must not be empty")
  .max(80, "must have at most 80 characters");

export const emailSchema = z
  .string()
  .trim()
  .toLowerCase()
  .pipe(z.email("must be an e-mail address such as name@example.org").max(200));

const badgeCodeSchema = z
  .string()
  .trim()
  .regex(/^[A-Za-z0-9._-]{2,40}$/, "must be 2 to 40 letters, digits, dots, hyphens or underscores");

export const createPersonSchema = z.strictObject({
  name: personNameSchema,
  roles: rolesSchema,
  badgeCode: badgeCodeSchema.optional(),
  /** Absent for somebody who is only named by badge at a shared station. */
  account: z.strictObject({ email: emailSchema, password: newPasswordSchema }).optional(),
});
export type CreatePerson = z.input<typeof createPersonSchema>;

/** For the administrator's own roles the password is needed. */
export const changeRolesSchema = z.strictObject({
  personId: uuidSchema,
  roles: rolesSchema,
  password: z.string().max(128).optional(),
});
export type ChangeRoles = z.input<typeof changeRolesSchema>;

/** What another administrator says to a change of own roles. */
export const decideRoleRequestSchema = z.strictObject({
  id: uuidSchema,
  decision: z.enum(["confirm", "refuse"]),
  password: z.string().min(1, "must not be empty").max(128),
});
export type DecideRoleRequest = z.input<typeof decideRoleRequestSchema>;

export const deactivatePersonSchema = z.strictObject({ personId: uuidSchema });
export type DeactivatePerson = z.input<typeof deactivatePersonSchema>;

/** A new password that an administrator gives somebody; whoever is signed in with the old one is out. */
export const setPasswordSchema = z.strictObject({ personId: uuidSchema, newPassword: newPasswordSchema });
export type SetPassword = z.input<typeof setPasswordSchema>;

/** A sign-in for somebody who had a badge only. */
export const giveSignInSchema = z.strictObject({ personId: z.uuid(), email: emailSchema, password: newPasswordSchema });
export type GiveSignIn = z.input<typeof giveSignInSchema>;

/** A name or an e-mail put right. */
export const correctPersonSchema = z.strictObject({
  personId: uuidSchema,
  name: personNameSchema,
  /** Only of somebody who signs in. */
  email: emailSchema.optional(),
  /** The viewer's own password, where it is their own name. */
  password: z.string().max(128).optional(),
});
export type CorrectPerson = z.input<typeof correctPersonSchema>;

export const changeBadgeSchema = z.strictObject({
  personId: uuidSchema,
  /** Empty: no badge any more. */
  badgeCode: z.union([z.literal(""), badgeCodeSchema]),
  /** The viewer's own password, where it is their own badge. */
  password: z.string().max(128).optional(),
});
export type ChangeBadge = z.input<typeof changeBadgeSchema>;

export const changeOwnPasswordSchema = z.strictObject({
  currentPassword: z.string().min(1, "must not be empty").max(128),
  newPassword: newPasswordSchema,
});
export type ChangeOwnPassword = z.input<typeof changeOwnPasswordSchema>;
