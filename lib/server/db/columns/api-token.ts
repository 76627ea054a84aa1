import "server-only";
import type { TokenScope } from "@/lib/schemas/token";
import { bytea, columnsOf, instant, nullable, text, list, uuid } from "./table-columns";

export const apiTokenColumns = columnsOf("api_token", {
  plantId: uuid,
  id: uuid,
  name: text,
  prefix: text,
  tokenHash: bytea,
  scopes: list<TokenScope>(text),
  createdById: nullable(uuid),
  createdAt: instant,
  expiresAt: nullable(instant),
  revokedAt: nullable(instant),
  lastUsedAt: nullable(instant),
});
