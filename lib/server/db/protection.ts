import "server-only";
import type pg from "pg";

type Powers = {
  readonly superuser: boolean;
  readonly owner: boolean;
  readonly empties: boolean;
  readonly triggers: boolean;
  readonly replication: boolean;
  readonly creates: boolean;
  readonly roles: boolean;
};

/** What each power of the application's role leaves unprotected, in words. */
const WORDS: Readonly<Record<keyof Powers, string>> = {
  superuser:
    "the application's database role is a superuser: it can change or remove any record, and only the journal shows it",
  owner:
    "the application's database role owns tables: it can switch off the triggers that keep records as they were written",
  empties: "the application's database role may empty tables of records",
  triggers: "the application's database role may put triggers on tables of records",
  replication: "the application's database role may switch triggers off for its session",
  creates: "the application's database role may create tables and functions",
  roles: "the application's database role may make other roles and give itself theirs",
};

/**
 * What the role of this connection could do past the triggers that keep evidence as it was written: empty for a role that
 * owns nothing. Asked of the server, so that what an administrator granted by hand is seen, too.
 */
export async function readUnprotected(db: pg.Pool | pg.ClientBase): Promise<readonly string[]> {
  const { rows } = await db.query<Powers>(
    `with me as (select oid, rolsuper, rolcreaterole from pg_roles where rolname = current_user),
       mine as (select c.oid, c.relowner from pg_class c where c.relnamespace = 'public'::regnamespace and c.relkind in ('r', 'p'))
     select me.rolsuper as superuser,
       exists (select 1 from mine where pg_has_role(me.oid, mine.relowner, 'MEMBER'))
         or exists (select 1 from pg_namespace n where n.nspname = 'public' and pg_has_role(me.oid, n.nspowner, 'MEMBER'))
         or exists (select 1 from pg_database d where d.datname = current_database() and pg_has_role(me.oid, d.datdba, 'MEMBER'))
         as owner,
       exists (select 1 from mine where has_table_privilege(me.oid, mine.oid, 'TRUNCATE')) as empties,
       exists (select 1 from mine where has_table_privilege(me.oid, mine.oid, 'TRIGGER')) as triggers,
       has_parameter_privilege(me.oid, 'session_replication_role', 'SET') as replication,
       has_schema_privilege(me.oid, 'public', 'CREATE') as creates,
       me.rolcreaterole or exists (select 1 from pg_roles r where r.rolname in ('pg_execute_server_program', 'pg_write_server_files')
         and pg_has_role(me.oid, r.oid, 'MEMBER')) as roles
     from me`,
  );
  const powers = rows[0];
  if (powers === undefined) return [];
  const named = (Object.keys(WORDS) as (keyof Powers)[]).filter((power) => powers[power]);
  // A superuser and an owner can do all the rest: one sentence says it.
  return named.slice(0, powers.superuser || powers.owner ? 1 : undefined).map((power) => WORDS[power]);
}
