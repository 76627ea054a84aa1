import "server-only";
import { statfs } from "node:fs/promises";
import { monitorEventLoopDelay } from "node:perf_hooks";
import manifest from "../../../package.json";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { environment } from "../base/env";
import { type Family, gauge, metricsText, readCounted } from "../base/metrics";
import { getPool } from "../db/client";
import { sql } from "../db/sql";
import { readQueueState } from "../jobs/workers";

type Delay = ReturnType<typeof monitorEventLoopDelay>;
const holder: typeof globalThis & { shellgateDelay?: Delay } = globalThis;

/** Watched from the first look on. */
function delay(): Delay {
  if (holder.shellgateDelay === undefined) {
    holder.shellgateDelay = monitorEventLoopDelay({ resolution: 20 });
    holder.shellgateDelay.enable();
  }
  return holder.shellgateDelay;
}

function ofProcess(): readonly Family[] {
  const { user, system } = process.cpuUsage();
  const { totalCount, idleCount, waitingCount } = getPool();
  const watched = delay();
  const lag = watched.count === 0 ? 0 : watched.percentile(99) / 1e9;
  watched.reset();
  return [
    gauge("shellgate_info", "Version of Shellgate and Node.", [
      [{ version: manifest.version, node: process.versions.node }, 1],
    ]),
    gauge("shellgate_process_cpu_seconds", "Processor time of this process since it began.", [
      [{}, (user + system) / 1e6],
    ]),
    gauge("shellgate_process_resident_bytes", "Memory of this process.", [[{}, process.memoryUsage.rss()]]),
    gauge("shellgate_process_uptime_seconds", "How long this process runs.", [[{}, process.uptime()]]),
    gauge("shellgate_event_loop_lag_seconds", "99 of 100 turns waited less, since the last look.", [[{}, lag]]),
    gauge("shellgate_database_pool_connections", "Connections of this process, and who waits for one.", [
      [{ state: "busy" }, totalCount - idleCount],
      [{ state: "idle" }, idleCount],
      [{ state: "waited for" }, waitingCount],
    ]),
  ];
}

async function ofDisk(): Promise<readonly Family[]> {
  try {
    const { bavail, bsize } = await statfs(environment("SHELLGATE_DATA"));
    return [gauge("shellgate_disk_free_bytes", "Room left on the disk of the plant's folder.", [[{}, bavail * bsize]])];
  } catch {
    // No folder of its own.
    return [];
  }
}

type Ages = {
  bytes: string;
  backupS: number | null;
  anchorS: number | null;
  entries: string;
  failed: number;
  waiting: number;
};

async function ofPlant(plantId: string): Promise<readonly Family[]> {
  const { rows } = await getPool().query<Ages>(sql`
    select pg_database_size(current_database())::text as bytes,
      (select extract(epoch from now() - max(ended_at))::float8 from backup_run
        where plant_id = ${plantId} and ended_at is not null and failure is null) as "backupS",
      (select extract(epoch from now() - e.at)::float8 from journal_entry e
        where e.plant_id = ${plantId} and e.chain = 'anchor' order by e.sequence desc limit 1) as "anchorS",
      (select coalesce(sum(length), 0)::text from journal_chain where plant_id = ${plantId}) as entries,
      (select count(*)::int from jobs.job where state = 'failed') as failed,
      (select count(*)::int from jobs.job where state < 'active' and start_after < now()) as waiting`);
  const { workers, waitingS } = await readQueueState();
  const found = rows[0];
  if (found === undefined) return [];
  const { bytes, backupS, anchorS, entries, failed, waiting } = found;
  const age = (name: string, help: string, value: number | null) =>
    value === null ? [] : [gauge(name, help, [[{}, value]])];
  return [
    gauge("shellgate_database_bytes", "Size of the database.", [[{}, Number(bytes)]]),
    gauge("shellgate_journal_entries", "Entries of the plant's journal.", [[{}, Number(entries)]]),
    ...age("shellgate_journal_anchor_age_seconds", "Since the journal was tied together.", anchorS),
    ...age("shellgate_backup_age_seconds", "Since the newest backup was written.", backupS),
    gauge("shellgate_workers", "Workers that live.", [[{}, workers]]),
    gauge("shellgate_jobs", "Jobs that failed for good, and that are due and wait.", [
      [{ state: "failed" }, failed],
      [{ state: "due" }, waiting],
    ]),
    gauge("shellgate_jobs_oldest_due_seconds", "Since the oldest that is due waits.", [[{}, waitingS]]),
  ];
}

/** Numbers of this process and the plant. @param isOpen - in OpenMetrics 1.0 */
export async function getMetrics(viewer: Viewer, isOpen: boolean): Promise<string> {
  assertMay(viewer, "metrics.view");
  const [disk, plant] = await Promise.all([ofDisk(), ofPlant(viewer.plantId)]);
  return metricsText([...ofProcess(), ...disk, ...plant, ...readCounted()], isOpen);
}
