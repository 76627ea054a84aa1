import { randomBytes } from "node:crypto";
import pg from "pg";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { uuidV7 } from "@/lib/schemas/identifier";
import { CHANGED_TABLES, grantsOn, grantsOnJobs } from "@/lib/server/db/grants";
import { prepareDatabase } from "@/lib/server/db/prepare-database";
import { readUnprotected } from "@/lib/server/db/protection";
import { readHealth } from "@/lib/server/doors/health";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { shipFrame } from "@/lib/server/shipments/ship-frame";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { livingWorker } from "../../helpers/living-worker";
import { createTestPlant, type TestPlant } from "../../helpers/plant";

let database: TestDatabase;
let plant: TestPlant;
beforeAll(async () => {
  database = await createTestDatabase();
  // What belongs to the database and not to a table (temporary tables) is not cloned from the template.
  await prepareDatabase({ ownerUrl: database.url, appUrl: database.appUrl });
  plant = await createTestPlant({ frames: 2 });
  await recordInspections(plant.system, [plant.inspection("T-0001"), plant.inspection("T-0002")]);
  await shipFrame(await plant.as("dock"), { id: uuidV7(), serial: "T-0001" });
});
afterAll(async () => database.drop());

const tables = async (): Promise<readonly string[]> => {
  const { rows } = await database.owner.query<{ name: string }>(
    "select tablename as name from pg_tables where schemaname = 'public' order by 1",
  );
  return rows.map((row) => row.name);
};

// SQLSTATE 42501 is insufficient_privilege, 42704 undefined_object (PostgreSQL manual, appendix A).
const REFUSED = { code: "42501" };

describe("the application's role", () => {
  it("has what the application needs on each table, and nothing beyond it", async () => {
    const { rows } = await database.owner.query<{ table: string; granted: string[] }>(`
      select c.relname as "table", array_agg(a.privilege_type::text order by a.privilege_type::text collate "C") as granted
      from pg_class c cross join lateral aclexplode(c.relacl) a
      where c.relnamespace = 'public'::regnamespace and c.relkind = 'r' and a.grantee = 'shellgate_app'::regrole group by 1`);
    const found = Object.fromEntries(rows.map(({ table, granted }) => [table, granted]));
    expect(found).toEqual(Object.fromEntries((await tables()).map((table) => [table, grantsOn(table)])));
    const known = await tables();
    expect(Object.keys(CHANGED_TABLES).filter((table) => !known.includes(table))).toEqual([]);
  });

  it("has in the queue's schema what enqueuing and running needs, and makes no queue of its own", async () => {
    const { rows } = await database.owner.query<{ table: string; granted: string[] }>(`
      select c.relname as "table", coalesce(array_agg(a.privilege_type::text order by a.privilege_type::text collate "C")
        filter (where a.grantee = 'shellgate_app'::regrole), '{}') as granted
      from pg_class c left join lateral aclexplode(c.relacl) a on true
      where c.relnamespace = 'jobs'::regnamespace and c.relkind in ('r', 'p') group by 1`);
    expect(rows.length).toBeGreaterThan(6);
    expect(Object.fromEntries(rows.map(({ table, granted }) => [table, granted]))).toEqual(
      Object.fromEntries(rows.map(({ table }) => [table, grantsOnJobs(table)])),
    );
    for (const statement of [
      `select jobs.create_queue('another', '{}')`,
      `select jobs.delete_queue('journal.anchor')`,
      "update jobs.queue set retry_limit = 0",
      "truncate jobs.job",
      "drop table jobs.job",
      "alter table jobs.job disable trigger all",
      "create table jobs.another (x int)",
    ])
      await expect(database.pool.query(statement), statement).rejects.toMatchObject(REFUSED);
  });

  it("changes and deletes no row of a table whose rows never change", async () => {
    const { rows } = await database.owner.query<{ table: string }>(`
      select c.relname as "table" from pg_trigger t join pg_class c on c.oid = t.tgrelid
      where t.tgfoid = 'refuse_change()'::regprocedure and t.tgtype & 24 = 24 and t.tgqual is null order by 1`);
    const evidence = rows.map((row) => row.table);
    expect(evidence).toEqual(expect.arrayContaining(["decision", "inspection", "journal_entry", "shipment"]));
    expect(evidence.filter((table) => Object.hasOwn(CHANGED_TABLES, table))).toEqual([]);
    for (const table of evidence) {
      await expect(database.pool.query(`update ${table} set plant_id = plant_id`)).rejects.toMatchObject(REFUSED);
      await expect(database.pool.query(`delete from ${table}`)).rejects.toMatchObject(REFUSED);
    }
  });

  it("neither empties, alters nor drops any table", async () => {
    for (const table of await tables()) {
      for (const statement of [
        `truncate ${table} cascade`,
        `alter table ${table} disable trigger all`,
        `alter table ${table} disable trigger user`,
        `alter table ${table} rename to another`,
        `alter table ${table} add column another text`,
        `alter table ${table} owner to shellgate_app`,
        `alter table ${table} enable row level security`,
        `drop table ${table} cascade`,
        `create trigger another before insert on ${table} for each row execute function refuse_change()`,
        `create rule another as on insert to ${table} do instead nothing`,
        `create index on ${table} ((1))`,
        `comment on table ${table} is 'x'`,
      ])
        await expect(database.pool.query(statement), statement).rejects.toMatchObject(REFUSED);
    }
  });

  it.each([
    "set session_replication_role = replica",
    "set local session_replication_role = replica",
    "select set_config('session_replication_role', 'replica', false)",
    "alter role shellgate_app set session_replication_role = replica",
    "alter role shellgate_app superuser",
    "alter role shellgate_app createrole",
    "alter role shellgate_app bypassrls",
    "alter role shellgate password 'x'",
    "set role shellgate",
    "set session authorization shellgate",
    "create role another",
    "drop role shellgate",
    "grant shellgate to shellgate_app",
    "alter database postgres set session_replication_role = replica",
    "alter system set session_replication_role = replica",
    "alter function refuse_change() owner to shellgate_app",
    "alter function refuse_change() set search_path = pg_temp",
    "create or replace function refuse_change() returns trigger language plpgsql as 'begin return new; end'",
    "drop function refuse_change() cascade",
    "drop trigger inspection_never_changes on inspection",
    "alter trigger inspection_never_changes on inspection rename to another",
    "create table another (x int)",
    "create temporary table drawing_revision (plant_id uuid, id uuid, state text)",
    "create function pg_temp.another() returns int language sql as 'select 1'",
    "create function another() returns int language sql security definer as 'select 1'",
    "create schema another",
    "alter schema public owner to shellgate_app",
    "create extension dblink",
    "create extension plpgsql_check",
    "create event trigger another on ddl_command_start execute function refuse_change()",
    "alter type \"FrameState\" rename value 'held' to 'free'",
    "update pg_trigger set tgenabled = 'D'",
    "update pg_class set reltriggers = 0",
    "select pg_read_file('database-password')",
    "select pg_ls_dir('.')",
    "copy (select 1) to program 'true'",
    "copy (select 1) to '/tmp/another'",
    "select lo_import('/etc/passwd')",
    "select pg_reload_conf()",
    "update _prisma_migrations set checksum = 'x'",
    "insert into _prisma_migrations (id, checksum, migration_name, applied_steps_count) values ('x', 'x', 'x', 1)",
    "vacuum full pg_catalog.pg_class",
    "reindex table inspection",
    "cluster inspection using inspection_pkey",
    "begin; lock table inspection in access exclusive mode; commit",
    "grant select on inspection to public",
    "alter default privileges for role shellgate grant all on tables to shellgate_app",
    "reassign owned by shellgate to shellgate_app",
  ])("is refused: %s", async (statement) => {
    const client = new pg.Client({ connectionString: database.appUrl });
    await client.connect();
    const notices: string[] = [];
    client.on("notice", (notice) => void notices.push(notice.message ?? ""));
    try {
      const refusal: unknown = await client.query(statement).then(
        () => null,
        (error: unknown) => error,
      );
      // What PostgreSQL passes over with a warning only has not been done either.
      const words = refusal instanceof Error ? refusal.message : notices.join();
      expect(words).toMatch(
        /permission denied|must be (owner|superuser|able)|not (a )?superuser|no privileges were granted|does not exist|could not open extension|is not available|only roles? with|cannot be changed now/i,
      );
      await client.query("rollback");
      expect((await client.query("show session_replication_role")).rows).toEqual([
        { session_replication_role: "origin" },
      ]);
    } finally {
      await client.end();
    }
  });

  it("cannot lift a shipment, nor change a released drawing through what a trigger looks up elsewhere", async () => {
    await expect(
      database.pool.query("update frame set state = 'measured', shipped_at = null where serial = 'T-0001'"),
    ).rejects.toMatchObject({ code: "23001" });
    for (const path of ["pg_catalog", "pg_temp, pg_catalog, public", "information_schema"])
      await expect(
        database.pool.query(`begin; set local search_path = ${path}; delete from public.characteristic; commit`),
      ).rejects.toMatchObject({ code: "23001" });
    const { rows } = await database.owner.query("select count(*)::int > 0 as there from characteristic");
    expect(rows).toEqual([{ there: true }]);
  });

  it("is told as protected, by the start and by health", async () => {
    expect(await readUnprotected(database.pool)).toEqual([]);
    const worker = await livingWorker();
    expect(await readHealth()).toMatchObject({ status: "ok", unprotected: [] });
    await worker.end();
  });
});

/** A role of a server of ours beside the plant's, with these options. */
async function withRole<T>(options: string, work: (url: string, role: string) => Promise<T>): Promise<T> {
  const role = `role_${randomBytes(4).toString("hex")}`;
  await database.owner.query(`create role ${role} login password 'word' ${options}`);
  const address = new URL(database.url);
  [address.username, address.password] = [role, "word"];
  try {
    return await work(address.href, role);
  } finally {
    await database.owner.query(`drop owned by ${role}`);
    await database.owner.query(`drop role ${role}`);
  }
}

async function unprotectedOf(url: string): Promise<readonly string[]> {
  const client = new pg.Client({ connectionString: url });
  await client.connect();
  try {
    return await readUnprotected(client);
  } finally {
    await client.end();
  }
}

describe("a server of one's own", () => {
  it("goes on with one role that owns everything, and says what is then unprotected", async () => {
    expect(await prepareDatabase({ ownerUrl: database.url, appUrl: database.url })).toEqual({
      applied: [],
      unprotected: [expect.stringMatching(/is a superuser: it can change or remove any record/)],
    });
  });

  it("gives another role its grants, takes away what it has beyond them, and does so again without a change", async () => {
    await withRole("", async (appUrl, role) => {
      await database.owner.query(`grant all on inspection, frame to ${role}`);
      await database.owner.query("grant select on decision to public");
      const addresses = { ownerUrl: database.url, appUrl };
      expect(await prepareDatabase(addresses)).toEqual({ applied: [], unprotected: [] });
      const acl = async () =>
        (
          await database.owner.query(
            "select relname, relacl::text from pg_class where relname in ('inspection', 'frame', 'decision')",
          )
        ).rows;
      const granted = await acl();
      expect(JSON.stringify(granted)).toContain(`${role}=ar/`);
      expect(JSON.stringify(granted)).not.toMatch(/\{=r|,=r/);
      expect(await Promise.all([prepareDatabase(addresses), prepareDatabase(addresses)])).toHaveLength(2);
      expect(await acl()).toEqual(granted);
    });
  });

  it("grants what a later migration makes: read and added to, and no more", async () => {
    await withRole("", async (appUrl, role) => {
      await database.owner.query("create table made_later (id int)");
      try {
        await prepareDatabase({ ownerUrl: database.url, appUrl });
        const client = new pg.Client({ connectionString: appUrl });
        await client.connect();
        await client.query("insert into made_later values (1)");
        expect((await client.query("select id from made_later")).rows).toEqual([{ id: 1 }]);
        await expect(client.query("update made_later set id = 2")).rejects.toMatchObject(REFUSED);
        await client.end();
        expect(role).not.toBe("");
      } finally {
        await database.owner.query("drop table made_later");
      }
    });
  });

  it.each([
    ["may make roles", "createrole", "", /may make other roles/],
    ["is a member of the owner", "in role shellgate", "", /owns tables/],
    ["may empty a table", "", "grant truncate on inspection to ROLE", /may empty tables/],
    ["may make triggers", "", "grant trigger on inspection to ROLE", /put triggers/],
    ["may switch triggers off", "", "grant set on parameter session_replication_role to ROLE", /switch triggers off/],
    ["may create functions", "", "grant create on schema public to ROLE", /create tables and functions/],
    ["writes files of the server", "in role pg_write_server_files", "", /may make other roles/],
  ])("says it when the role %s", async (_, options, statement, words) => {
    await withRole(options, async (url, role) => {
      if (statement !== "") await database.owner.query(statement.replace("ROLE", role));
      expect(await unprotectedOf(url)).toEqual([expect.stringMatching(words)]);
    });
  });

  it("refuses an owner that owns nothing, and two addresses that are not one database", async () => {
    await withRole("", async (ownerUrl) => {
      await expect(prepareDatabase({ ownerUrl, appUrl: database.appUrl })).rejects.toThrow(
        /has to own the tables: permission denied/,
      );
    });
    const other = new URL(database.appUrl);
    other.pathname = "/postgres";
    await expect(prepareDatabase({ ownerUrl: database.url, appUrl: other.href })).rejects.toThrow(
      /lead to different databases/,
    );
  });
});
