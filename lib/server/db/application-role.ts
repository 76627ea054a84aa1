import "server-only";
import { randomBytes } from "node:crypto";
import { existsSync, readFileSync, renameSync, writeFileSync } from "node:fs";
import path from "node:path";
import pg from "pg";

/** The role that the application runs as on an embedded server. It owns nothing; the tables are the owner's. */
export const APPLICATION_ROLE = "shellgate_app";

const PASSWORD = /^[A-Za-z0-9_-]{32}$/;

const passwordFile = (folder: string): string => path.join(folder, "database-app-password");

/** The password of the application's role, or null where a data folder of an earlier version has none. */
export function readApplicationPassword(folder: string): string | null {
  const file = passwordFile(folder);
  if (!existsSync(file)) return null;
  const password = readFileSync(file, "utf8").trim();
  return PASSWORD.test(password) ? password : null;
}

/** As readApplicationPassword, made at first use: written whole or not at all, readable by its owner only. */
export function ensureApplicationPassword(folder: string): string {
  const known = readApplicationPassword(folder);
  if (known !== null) return known;
  const password = randomBytes(24).toString("base64url");
  const file = passwordFile(folder);
  const unfinished = `${file}.${process.pid}`;
  writeFileSync(unfinished, password, { mode: 0o600 });
  renameSync(unfinished, file);
  return password;
}

/**
 * Sees that the application's role is there, has this password and no power of its own. It says the whole of what the role
 * is each time, so that a start that was killed at any point is made good by the next one.
 *
 * @param client - connected as the superuser of the server
 */
export async function ensureApplicationRole(client: pg.Client, password: string): Promise<void> {
  const { rowCount } = await client.query("select 1 from pg_roles where rolname = $1", [APPLICATION_ROLE]);
  if (rowCount === 0) await client.query(`create role ${APPLICATION_ROLE} login`);
  await client.query(`alter role ${APPLICATION_ROLE} with login nosuperuser nocreatedb nocreaterole noreplication nobypassrls
    password ${pg.escapeLiteral(password)}`);
  const { rows: memberships } = await client.query<{ role: string }>(
    `select r.rolname as role from pg_auth_members m join pg_roles r on r.oid = m.roleid
     where m.member = $1::regrole`,
    [APPLICATION_ROLE],
  );
  for (const { role } of memberships)
    await client.query(`revoke ${pg.escapeIdentifier(role)} from ${APPLICATION_ROLE}`);
}
