import "server-only";
import { formatBytes } from "@/lib/format/byte-text";
import { formatMoment } from "@/lib/format/date-text";
import { formatCounted } from "@/lib/format/number-text";
import { getPool } from "../db/client";
import { plantColumns } from "../db/columns/plant";
import type { RowOf } from "../db/columns/table-columns";
import { readUnprotected } from "../db/protection";
import { sql } from "../db/sql";
import { readQueueState } from "../jobs/workers";
import { type Finding, good, remark, wrong } from "./finding";
import { ageWords } from "./machine";

const OLDEST_SERVER = 150_000;
/** Clocks of two machines that nobody sets differ by seconds a week. */
const CLOCK_MS = 5_000;
/** A journal that is tied together each minute: entries later than now were written by another clock. */
const AHEAD_MS = 60_000;
const BACKUP_MS = 50 * 3_600_000;
const LATE_S = 600;
const CROWDED = 0.9;

type Server = {
  number: number;
  text: string;
  bytes: string;
  fsync: string;
  pages: string;
  connections: number;
  most: number;
  now: Date;
};

/** The server itself. @returns the size of the database, bytes, too */
export async function examineServer(
  now: () => Date,
): Promise<{ readonly findings: readonly Finding[]; readonly bytes: number }> {
  const from = now().getTime();
  const { rows } = await getPool().query<Server>(
    `select current_setting('server_version_num')::int as number, current_setting('server_version') as text,
       pg_database_size(current_database())::text as bytes, current_setting('fsync') as fsync,
       current_setting('full_page_writes') as pages, (select count(*)::int from pg_stat_activity where datname is not null) as connections,
       current_setting('max_connections')::int as most, clock_timestamp() as now`,
  );
  const until = now().getTime();
  const found = rows[0];
  if (found === undefined) throw new Error("a statement without a table has one row");
  const { number, text, fsync, pages, connections, most } = found;
  const bytes = Number(found.bytes);
  const findings: Finding[] = [];
  const says = `PostgreSQL ${text}, the database has ${formatBytes(bytes)}.`;
  findings.push(
    number < OLDEST_SERVER
      ? wrong("Database", says, "Shellgate needs PostgreSQL 15 or newer: move to a newer server by backup and restore.")
      : good("Database", says),
  );
  if (fsync !== "on" || pages !== "on")
    findings.push(
      wrong(
        "Durability",
        "The server has fsync or full_page_writes switched off: a power cut may destroy the database.",
        "Switch both on in the server's settings and start it again.",
      ),
    );
  if (connections > most * CROWDED)
    findings.push(
      remark(
        "Connections",
        `${connections} of ${most} connections of the server are taken.`,
        "Give the server more (max_connections), or each process less (DATABASE_POOL_MAX).",
      ),
    );
  const apart = Math.max(from - found.now.getTime(), found.now.getTime() - until, 0);
  if (apart > CLOCK_MS)
    findings.push(
      wrong(
        "Clock of the server",
        `The clock of the database server is ${ageWords(apart)} away from this machine's.`,
        "Let both machines take their time from the network.",
      ),
    );
  return { findings, bytes };
}

/** What the clock says of itself: nothing may have happened later than now. */
export async function examineClock(now: () => Date): Promise<Finding> {
  const { rows } = await getPool().query<{ newest: Date | null }>(
    `select max(e.at) as newest from journal_chain c cross join lateral (select at from journal_entry e
       where e.plant_id = c.plant_id and e.chain = c.chain order by e.sequence desc limit 1) e`,
  );
  const newest = rows[0]?.newest?.getTime() ?? 0;
  const ahead = newest - now().getTime();
  const says = `It is ${formatMoment(now(), { zone: "UTC" })}.`;
  if (ahead <= AHEAD_MS) return good("Clock", says);
  return wrong(
    "Clock",
    `${says} The newest entry of the journal is ${ageWords(ahead)} later: the clock was set back, or ran ahead before.`,
    "Let the machine take its time from the network, and look into the journal whose entries have a wrong time.",
  );
}

/** @param here - names of the migrations that this version knows; null where nobody can tell */
export async function examineTables(here: readonly string[] | null): Promise<Finding> {
  const { rows } = await getPool().query<{ name: string }>(
    "select migration_name as name from _prisma_migrations where finished_at is not null and rolled_back_at is null order by 1",
  );
  if (here === null) return good("Tables", `The tables have ${formatCounted(rows.length, "migration")}.`);
  const newer = rows.find(({ name }) => !here.includes(name));
  const missing = here.filter((name) => !rows.some((row) => row.name === name));
  if (newer !== undefined)
    return wrong(
      "Tables",
      `The database is newer than this Shellgate: it has the migration ${newer.name}.`,
      "Start the newer Shellgate, or restore a backup of before into a new place.",
    );
  if (missing.length > 0)
    return remark(
      "Tables",
      `The tables are of an older version; ${formatCounted(missing.length, "migration")} are missing.`,
      "Run npm run backup, then npm start, which applies them.",
    );
  return good("Tables", `The tables are of this version, with ${formatCounted(rows.length, "migration")}.`);
}

export async function examineRoles(): Promise<Finding> {
  const unprotected = await readUnprotected(getPool());
  if (unprotected.length === 0)
    return good("Roles", "The application's database role owns nothing and can switch off no guard of records.");
  return wrong("Roles", `Not protected: ${unprotected.join("; ")}.`, 'README, "One role or two", says how to mend it.');
}

export async function examineJobs(): Promise<Finding> {
  const { workers, waitingS, failedS } = await readQueueState();
  if (workers === 0)
    return wrong(
      "Jobs",
      "No worker runs: no backup is written, no message sent, and the journal is not tied together.",
      "Start Shellgate again, or npm run worker beside it. What waits is kept.",
    );
  if (waitingS > LATE_S)
    return wrong(
      "Jobs",
      `Something that is due waits since ${ageWords(waitingS * 1000)}.`,
      "Open Setup, Jobs: it says what runs and what waits.",
    );
  if (failedS > 0)
    return remark(
      "Jobs",
      "A job failed for good, and nobody has decided about it.",
      "Open Setup, Jobs, and press try again or give up.",
    );
  return good("Jobs", `${formatCounted(workers, "worker")} at work, nothing is late.`);
}

const newestOf = plantColumns("p", { plant: "name", zone: "timeZone" });
type Newest = RowOf<typeof newestOf> & {
  enabled: boolean;
  endedAt: Date | null;
  file: string | null;
  failure: string | null;
};

/** One finding for each plant. */
export async function examineBackups(now: () => Date): Promise<readonly Finding[]> {
  const { rows } = await getPool().query<Newest>(sql`
    select ${newestOf}, coalesce(s.enabled, true) as enabled, r.ended_at as "endedAt", r.file, l.failure
    from plant p left join backup_setting s on s.plant_id = p.id
      left join lateral (select ended_at, file from backup_run where plant_id = p.id and ended_at is not null and failure is null
        order by number desc limit 1) r on true
      left join lateral (select failure from backup_run where plant_id = p.id and ended_at is not null order by number desc limit 1) l on true
    order by p.name`);
  const write = "Press Write a backup now in Setup, Backups, or run npm run backup.";
  return rows.map(({ plant, zone, enabled, endedAt, file, failure }) => {
    const subject = rows.length > 1 ? `Backups of ${plant}` : "Backups";
    if (endedAt === null)
      return remark(
        subject,
        failure === null ? "No backup was written yet." : `No backup was written yet; the last try failed: ${failure}`,
        write,
      );
    const ageMs = now().getTime() - endedAt.getTime();
    const says = `The newest backup was written ${formatMoment(endedAt, { zone })}: ${file}.`;
    if (failure !== null)
      return wrong(subject, `${says} The last try since failed: ${failure}`, "Mend what it says, then write one.");
    if (ageMs < -AHEAD_MS) return wrong(subject, `${says} That is later than now: a clock was set back.`, write);
    if (ageMs > BACKUP_MS) return wrong(subject, `${says} That is ${ageWords(ageMs)} ago.`, write);
    return enabled
      ? good(subject, says)
      : remark(subject, `${says} The schedule is off.`, "Switch it on in Setup, Backups.");
  });
}
