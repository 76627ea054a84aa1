import "server-only";
import { randomBytes } from "node:crypto";
import { AppError } from "../../errors";
import { uuidV7 } from "../../schemas/identifier";
import { createTokenSchema, revokeTokenSchema, type CreateToken, type RevokeToken } from "../../schemas/token";
import { assertMay } from "../auth/permissions";
import { actorOf, type Viewer } from "../auth/viewer";
import { apiTokenColumns } from "../db/columns/api-token";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { appendJournal } from "../journal/append-journal";
import { parseInput } from "../base/parse-input";
import { forgetTokens, hashToken, TOKEN_PREFIX } from "../auth/find-token-viewer";
import { TOKENS_WORDS } from "./words";

const words = TOKENS_WORDS.commands;

const SHOWN_CHARACTERS = 8;

export type CreatedToken = {
  readonly tokenId: string;
  /** The token itself: shown this once, stored nowhere. */
  readonly token: string;
};

/** Makes an API token with scopes. @throws AppError forbidden; invalid-input if it would have expired already */
export async function createToken(viewer: Viewer, input: CreateToken): Promise<CreatedToken> {
  assertMay(viewer, "tokens.manage");
  const { name, scopes, expiresAt } = parseInput(createTokenSchema, input);
  const at = new Date();
  const expires = expiresAt === undefined ? null : new Date(expiresAt);
  if (expires !== null && expires <= at) {
    throw new AppError("invalid-input", words.tokenWouldHaveExpiredAlready, {
      fields: [{ path: "expiresAt", message: words.mustBeInFuture }],
    });
  }
  const token = TOKEN_PREFIX + randomBytes(32).toString("base64url");
  const tokenId = uuidV7(at.getTime());
  const prefix = token.slice(0, SHOWN_CHARACTERS);
  const { plantId } = viewer;
  await inSqlTransaction(async (db) => {
    await db.query(sql`insert into api_token (plant_id, id, name, prefix, token_hash, scopes, created_by_id, expires_at)
      values (${plantId}, ${tokenId}, ${name}, ${prefix}, ${hashToken(token)}, ${scopes},
        ${viewer.kind === "person" ? viewer.personId : null}, ${expires})`);
    const payload = { tokenId, name, scopes, expiresAt: expires?.toISOString() ?? null };
    await appendJournal(db, {
      plantId,
      chain: "people",
      at,
      actor: actorOf(viewer),
      action: "token.created",
      subjects: [],
      payload,
    });
  });
  return { tokenId, token };
}

const ending = apiTokenColumns("api_token", ["name"]);

/** Ends a token: at once in this process, within five seconds in others. */
export async function revokeToken(viewer: Viewer, input: RevokeToken): Promise<void> {
  assertMay(viewer, "tokens.manage");
  const { tokenId } = parseInput(revokeTokenSchema, input);
  const { plantId } = viewer;
  const at = new Date();
  await inSqlTransaction(async (db) => {
    const { rows } = await db.query<RowOf<typeof ending> & { revoked: boolean }>(sql`
      select ${ending}, revoked_at is not null as revoked from api_token
      where plant_id = ${plantId} and id = ${tokenId} for update`);
    const token = rows[0];
    if (token === undefined) throw new AppError("not-found", words.isNoSuchApiToken);
    if (token.revoked) throw new AppError("conflict", words.apiTokenIsRevokedAlready);
    await db.query(sql`update api_token set revoked_at = ${at} where plant_id = ${plantId} and id = ${tokenId}`);
    await appendJournal(db, {
      plantId,
      chain: "people",
      at,
      actor: actorOf(viewer),
      action: "token.revoked",
      subjects: [],
      payload: { tokenId, name: token.name },
    });
  });
  forgetTokens();
}
