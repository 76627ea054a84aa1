import "server-only";
import pg from "pg";

/** What the application does to rows besides reading them and adding new ones. */
type Change = "UPDATE" | "DELETE";

/**
 * Tables whose rows the application changes or deletes (a lock of rows counts as a change). Any other table, one that a later
 * migration makes included, is read and added to only: evidence belongs there.
 */
export const CHANGED_TABLES: Readonly<Record<string, readonly Change[]>> = {
  alarm_signal: ["DELETE"],
  alarm_state: ["DELETE"],
  alarm_watch: ["UPDATE"],
  api_token: ["UPDATE"],
  auth_account: ["UPDATE"],
  auth_rate_limit: ["UPDATE", "DELETE"],
  auth_session: ["UPDATE", "DELETE"],
  auth_user: ["UPDATE"],
  auth_verification: ["UPDATE", "DELETE"],
  backup_run: ["UPDATE"],
  backup_setting: ["UPDATE"],
  batch: ["UPDATE"],
  characteristic: ["DELETE"],
  device: ["UPDATE"],
  drawing_revision: ["UPDATE"],
  drift_case: ["UPDATE"],
  escape: ["UPDATE"],
  frame: ["UPDATE"],
  frame_model: ["UPDATE"],
  gauge: ["UPDATE"],
  journal_chain: ["UPDATE"],
  journal_check: ["UPDATE"],
  line: ["UPDATE"],
  mail_delivery: ["UPDATE", "DELETE"],
  measuring_plan: ["UPDATE"],
  measuring_plan_revision: ["UPDATE"],
  message: ["UPDATE", "DELETE"],
  message_setting: ["UPDATE"],
  operation: ["UPDATE"],
  outbox: ["UPDATE", "DELETE"],
  paper: ["UPDATE", "DELETE"],
  person: ["UPDATE"],
  person_role: ["DELETE"],
  plant: ["UPDATE"],
  role_request: ["UPDATE"],
  session_device: ["UPDATE", "DELETE"],
  setting_ring: ["UPDATE"],
  setup_link: ["UPDATE", "DELETE"],
  station: ["UPDATE"],
  stream: ["UPDATE"],
  subscription: ["DELETE"],
  supplier: ["UPDATE"],
  token_device: ["UPDATE"],
  webhook: ["UPDATE"],
  webhook_attempt: ["DELETE"],
  webhook_delivery: ["UPDATE", "DELETE"],
  webhook_secret: ["UPDATE"],
};

/** The history of migrations is the owner's; the counts of batches are their trigger's. */
const READ_ONLY: readonly string[] = ["_prisma_migrations", "batch_tally"];

/** Privileges of the application on a table, as PostgreSQL spells them, sorted. */
export function grantsOn(table: string): readonly string[] {
  if (READ_ONLY.includes(table)) return ["SELECT"];
  const changes = Object.hasOwn(CHANGED_TABLES, table) ? (CHANGED_TABLES[table] ?? []) : [];
  return [...changes, "INSERT", "SELECT"].sort();
}

/**
 * What the application does in the schema of the queue: jobs are begun, ended and removed through their parent table, so that a
 * queue which a later migration makes needs nothing more.
 */
const JOB_TABLES: Readonly<Record<string, readonly string[]>> = {
  job: ["DELETE", "INSERT", "SELECT", "UPDATE"],
  queue: ["SELECT"],
  version: ["SELECT"],
  worker: ["DELETE", "INSERT", "SELECT", "UPDATE"],
};

/** Privileges of the application on a table of the queue, likewise. */
export function grantsOnJobs(table: string): readonly string[] {
  return Object.hasOwn(JOB_TABLES, table) ? (JOB_TABLES[table] ?? []) : [];
}

type Found = { readonly schema: string; readonly table: string; readonly granted: readonly string[] };

/** What the application's role and everybody have on each table now. */
async function readGrants(client: pg.Client, role: string): Promise<readonly (Found & { readonly open: boolean })[]> {
  const { rows } = await client.query<Found & { open: boolean }>(
    `select c.relnamespace::regnamespace::text as schema, c.relname as "table", bool_or(a.grantee = 0) is true as open,
       coalesce(array_agg(a.privilege_type::text order by a.privilege_type::text collate "C")
         filter (where a.grantee = r.oid), '{}') as granted
     from pg_class c cross join pg_roles r
       left join lateral aclexplode(c.relacl) a on a.grantee in (r.oid, 0)
     where c.relnamespace in ('public'::regnamespace, 'jobs'::regnamespace) and c.relkind in ('r', 'p') and r.rolname = $1
     group by c.relnamespace, c.relname order by 1, 2`,
    [role],
  );
  return rows;
}

const same = (one: readonly string[], other: readonly string[]): boolean => one.join() === other.join();

/**
 * Gives the application's role what it needs on every table of the database, and takes away what it has beyond that. To be
 * called after the migrations: a table that one of them has made is granted like the others.
 *
 * @param client - connected as the owner of the tables, outside a transaction
 * @param role - the role that the application runs as; not the owner itself
 */
export async function grantToApplication(client: pg.Client, role: string): Promise<void> {
  const name = pg.escapeIdentifier(role);
  const { rows } = await client.query<{ database: string }>("select current_database() as database");
  const database = pg.escapeIdentifier(rows[0]?.database ?? "");
  const statements = [
    // A temporary table would stand before one of the same name wherever a trigger looks it up.
    `revoke temporary on database ${database} from public, ${name}`,
    `revoke create on schema public from public, ${name}`,
    `grant usage on schema public to ${name}`,
    `grant usage on all sequences in schema public to ${name}`,
    `grant usage on schema jobs to ${name}`,
  ];
  for (const { schema, table, granted, open } of await readGrants(client, role)) {
    const wanted = schema === "jobs" ? grantsOnJobs(table) : grantsOn(table);
    if (same(granted, wanted) && !open) continue;
    const quoted = `${schema}.${pg.escapeIdentifier(table)}`;
    statements.push(`revoke all on ${quoted} from public, ${name}`);
    if (wanted.length > 0) statements.push(`grant ${wanted.join(", ")} on ${quoted} to ${name}`);
  }
  await client.query(`begin; ${statements.join("; ")}; commit`);
}
