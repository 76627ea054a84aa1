import "server-only";
import type pg from "pg";
import { ALARM_STREAMS, type AlarmStream } from "@/lib/quality/alarm/alarm-streams";
import { type StartedStream, startStream } from "@/lib/quality/alarm/run-line";
import { type LineWatch, restartStreams, startApproved } from "@/lib/quality/alarm/watch-line";
import { streamBaselineColumns } from "../db/columns/stream-baseline";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import type { WatchGrounds } from "./watch-grounds";
import { lineColumnsOf } from "./line-columns";
import { isBefore, type Position, readWatchedRows } from "./watched-frames";

/** An approved baseline of a watch: from which place in the order of measuring it holds, and which of its frames count no more. */
export type BaselineStart = {
  readonly key: AlarmStream["key"];
  readonly version: number;
  readonly after: Position;
  readonly withdrawn: readonly string[];
};

const startColumns = streamBaselineColumns("b", ["stream", "version", "afterAt", "afterId"]);

/** The baselines that were approved for the streams of a watch, in the order in which they came. */
export async function readStarts(db: pg.ClientBase, plantId: string, watchId: string): Promise<BaselineStart[]> {
  const { rows } = await db.query<RowOf<typeof startColumns> & { withdrawn: readonly string[] }>(sql`
    select ${startColumns}, array(select w.inspection_id from inspection_withdrawal w
      where w.plant_id = b.plant_id and w.inspection_id = any(b.frames)) as withdrawn
    from stream_baseline b where b.plant_id = ${plantId} and b.watch_id = ${watchId} and b.kind <> 'automatic'
    order by b.after_at, b.after_id, b.version`);
  return rows.map(({ stream, version, afterAt, afterId, withdrawn }) => ({
    key: stream,
    version,
    after: { at: afterAt, id: afterId },
    withdrawn,
  }));
}

/** Whether a frame was measured before the stream began with the baseline that is in force for it now, or with a later one. */
export function isBeforeStart(starts: readonly BaselineStart[], key: AlarmStream["key"], frame: Position): boolean {
  return starts.some((one) => one.key === key && !isBefore(one.after, frame));
}

/** The earliest place from which a stored state has to be made anew, since frames of its baselines were withdrawn; null for none. */
export function staleSince(starts: readonly BaselineStart[], { streams }: LineWatch): Position | null {
  const stale = starts.filter(({ key, version, withdrawn }) => {
    const running = streams.find((one) => one.key === key)?.running;
    return running?.version === version && running.baseline.some((frame) => withdrawn.includes(frame));
  });
  return stale[0]?.after ?? null;
}

const wholeColumns = streamBaselineColumns("b", ["frames", "ages", "region", "started"]);

/** Lets the stream of an approved baseline begin with it. */
type Begin = (watch: LineWatch) => LineWatch;

/**
 * Reads what a stream begins with. Without the frames that were withdrawn since, it is made of the others by the one function of
 * baselines; the edges stay as they were signed. Where too few are left the stream begins by itself.
 */
export async function readBegin(
  db: pg.ClientBase,
  plantId: string,
  watchId: string,
  { key, version, withdrawn }: BaselineStart,
  grounds: Pick<WatchGrounds, "drawing" | "boreReadings" | "unknownWearSd">,
): Promise<Begin> {
  const { rows } = await db.query<RowOf<typeof wholeColumns>>(sql`
    select ${wholeColumns} from stream_baseline b
    where b.plant_id = ${plantId} and b.watch_id = ${watchId} and b.stream = ${key} and b.version = ${version}`);
  const stream = ALARM_STREAMS.find((one) => one.key === key);
  const found = rows[0];
  if (found === undefined || stream === undefined) return (watch) => watch;
  const { frames, ages, region, started } = found;
  // Its thresholds follow from the budget with the next frame.
  const runLength = 0;
  if (withdrawn.length === 0)
    return (watch) => startApproved(watch, { key, version, started, runLength, frames: [...frames] });
  const left = await readWatchedRows(db, plantId, frames);
  const ageOf = new Map(frames.map((id, at) => [id, ages[at] ?? at + 1]));
  const columns = lineColumnsOf(
    left,
    left.map(({ id }) => ageOf.get(id) ?? 1),
    grounds,
  );
  const again = startStream(columns, stream, LEAST_RUN, { region, unknownWearSd: grounds.unknownWearSd });
  if (typeof again === "string") return (watch) => restartStreams(watch, [key]);
  return (watch) =>
    startApproved(watch, {
      key,
      version,
      started: withEdges(again, started),
      runLength,
      frames: left.map(({ id }) => id),
    });
}

/** Any will do: the budget's takes its place. */
const LEAST_RUN = 370;

function withEdges(again: StartedStream, signed: StartedStream): StartedStream {
  if (again.scheme.kind !== signed.scheme.kind) return again;
  return { ...again, scheme: signed.scheme, gap: signed.gap };
}
