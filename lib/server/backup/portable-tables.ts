import "server-only";
import pg from "pg";
import { AppError } from "@/lib/errors";
import type { KeptTable } from "./backup-contents";

/**
 * Left out, since the migrations make them or since they speak of processes that do not come along: the history of migrations, the
 * queues, who works on them, and what the library of the queue has for itself and nobody fills.
 */
const LEFT_OUT = [
  "public._prisma_migrations",
  "jobs.queue",
  "jobs.version",
  "jobs.worker",
  "jobs.archive",
  "jobs.schedule",
  "jobs.subscription",
];

type Found = { schema: string; table: string; columns: string[]; readable: boolean };

/** Every table of Shellgate with its columns, partitions with the table that they belong to. @throws AppError where one may not be read */
export async function listTables(client: pg.Client): Promise<readonly KeptTable[]> {
  const { rows } = await client.query<Found>(
    `select n.nspname as schema, c.relname as "table", has_table_privilege(c.oid, 'SELECT') as readable,
       array_agg(a.attname::text order by a.attnum) as columns
     from pg_class c join pg_namespace n on n.oid = c.relnamespace
       join pg_attribute a on a.attrelid = c.oid and a.attnum > 0 and not a.attisdropped and a.attgenerated = ''
     where n.nspname in ('public', 'jobs') and c.relkind in ('r', 'p') and not c.relispartition
       and n.nspname || '.' || c.relname <> all($1)
     group by c.oid, n.nspname, c.relname order by 1 desc, 2`,
    [LEFT_OUT],
  );
  const closed = rows.find(({ readable }) => !readable);
  if (closed !== undefined)
    throw new AppError(
      "unavailable",
      `The database role may not read the table ${closed.table}. Nothing was written; start Shellgate once, which gives it what it needs, or give the address of the owner.`,
    );
  return rows.map(({ schema, table, columns }) => ({ name: `${schema}.${table}`, columns }));
}

const quote = (name: string): string => name.split(".").map(pg.escapeIdentifier).join(".");
const list = (columns: readonly string[]): string => columns.map(pg.escapeIdentifier).join(", ");

/** A query, since a partitioned table itself has no rows to copy. */
export const copyOutText = ({ name, columns }: KeptTable): string =>
  `copy (select ${list(columns)} from ${quote(name)}) to stdout`;

export const copyInText = ({ name, columns }: KeptTable): string => `copy ${quote(name)} (${list(columns)}) from stdin`;

/** How values are spelt: the same on both sides, whatever the servers are set to. A number keeps every bit. */
export const SPELLING = `set timezone = 'UTC'; set datestyle = 'ISO, YMD'; set intervalstyle = 'iso_8601'; set bytea_output = 'hex';
  set extra_float_digits = 1; set client_encoding = 'UTF8'; set statement_timeout = 0; set lock_timeout = 0;
  set idle_in_transaction_session_timeout = 0`;
