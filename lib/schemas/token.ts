import { z } from "zod";
import { uuidSchema } from "./uuid";
import { momentSchema } from "./moment";

/** What a program may be let to do with an API token. */
export const TOKEN_SCOPES = [
  "readings:write",
  "gate:read",
  "gate:ship",
  "events:write",
  "results:read",
  "metrics:read",
  "wall:view",
] as const;
export type TokenScope = (typeof TOKEN_SCOPES)[number];

export const createTokenSchema = z.strictObject({
  name: z.string().trim().min(1, "must not be empty").max(80, "must have at most 80 characters"),
  scopes: z
    .array(z.enum(TOKEN_SCOPES))
    .min(1, "must name at least one scope")
    .transform((scopes) => [...new Set(scopes)]),
  /** ISO 8601 with offset; absent: the token does not expire by itself. */
  expiresAt: momentSchema.optional(),
});
export type CreateToken = z.input<typeof createTokenSchema>;

export const revokeTokenSchema = z.strictObject({ tokenId: uuidSchema });
export type RevokeToken = z.input<typeof revokeTokenSchema>;
