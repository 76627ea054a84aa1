import "server-only";
import type { TokenScope } from "../../schemas/token";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { apiTokenColumns } from "../db/columns/api-token";
import { type RowOf, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";

export type TokenListed = {
  readonly tokenId: string;
  readonly name: string;
  /** The first characters, to tell tokens apart. */
  readonly prefix: string;
  readonly scopes: readonly TokenScope[];
  readonly createdAt: Date;
  readonly expiresAt: Date | null;
  readonly revokedAt: Date | null;
  /** To the minute. */
  readonly lastUsedAt: Date | null;
};

const MOST_TOKENS = 500;
const listed = together(
  apiTokenColumns("api_token", { tokenId: "id" }),
  apiTokenColumns("api_token", ["name", "prefix", "scopes", "createdAt", "expiresAt", "revokedAt", "lastUsedAt"]),
);

/** API tokens of the plant, the newest first; 500 at most. */
export async function listTokens(viewer: Viewer): Promise<readonly TokenListed[]> {
  assertMay(viewer, "tokens.view");
  const { rows } = await getPool().query<RowOf<typeof listed>>(sql`
    select ${listed}
    from api_token where plant_id = ${viewer.plantId} order by created_at desc, id limit ${MOST_TOKENS}`);
  return rows;
}
