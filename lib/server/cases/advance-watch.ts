import "server-only";
import { createHash } from "node:crypto";
import type pg from "pg";
import type { AlarmStream } from "@/lib/quality/alarm/alarm-streams";
import {
  type LineWatch,
  NOTHING_WATCHED,
  restartStreams,
  watchFrame,
  type WatchSettings,
  type WatchSignal,
} from "@/lib/quality/alarm/watch-line";
import { uuidV7 } from "@/lib/schemas/identifier";
import { constant, sql } from "../db/sql";
import { runLengthAt } from "./alarm-scheme";
import { type BaselineStart, readBegin, readStarts, staleSince } from "./baseline-starts";
import type { WatchGrounds } from "./watch-grounds";
import {
  BEFORE_ALL,
  type FrameGroup,
  guardedBy,
  isBefore,
  type Position,
  readBeginning,
  readPositions,
  readWatchedRows,
  watchedFrame,
} from "./watched-frames";

/** Frames of the starting stretch of a stream: provisional, but a hundred would leave a new line unwatched for weeks. A choice, no source. */
export const BASELINE_FRAMES = 50;
/** A starting stretch is cut where it changed within itself, at this chance of cutting one that did not. A choice, no source. */
const START_ALPHA = 0.001;
/** Frames between stored states, and how many of these are kept: what comes later than all of them changes nothing any more. */
export const STATE_EVERY = 100;
const STATES_KEPT = 20;
/** Frames that are looked at where a plant of many begins to watch. */
export const MOST_AT_FIRST = 5000;
/** Frames that one transaction goes on by. */
const SLICE = 500;

export type Restart = { readonly keys: readonly AlarmStream["key"][]; readonly at: string; readonly id: string };

export type Watch = FrameGroup & {
  readonly id: string;
  readonly beganAt: Date;
  readonly beganId: string;
  readonly place: number;
  readonly newestAt: Date | null;
  readonly newestId: string | null;
  readonly restarts: readonly Restart[];
  readonly starts: readonly BaselineStart[];
};

type StoredState = Position & { readonly place: number; readonly digest: string };

const FOR_UPDATE = constant("for update");
const NO_LOCK = constant("");

/** The watch of a group; null where its frames are not watched yet. */
export async function findWatch(
  db: pg.ClientBase,
  plantId: string,
  { lineId, operationId, drawingId }: FrameGroup,
  isLocked = false,
): Promise<Watch | null> {
  const { rows } = await db.query<Omit<Watch, "starts">>(sql`
    select id, line_id as "lineId", operation_id as "operationId", drawing_id as "drawingId", began_at as "beganAt",
      began_id as "beganId", place, newest_at as "newestAt", newest_id as "newestId", restarts
    from alarm_watch where plant_id = ${plantId} and line_id = ${lineId} and operation_id = ${operationId}
      and drawing_id = ${drawingId} ${isLocked ? FOR_UPDATE : NO_LOCK}`);
  return rows[0] === undefined ? null : { ...rows[0], starts: await readStarts(db, plantId, rows[0].id) };
}

/** Locks the watch of a group, and makes it where there is none: one worker at a time goes on with it. */
export async function lockWatch(db: pg.ClientBase, plantId: string, group: FrameGroup, until: Date): Promise<Watch> {
  const { lineId, operationId, drawingId } = group;
  const known = await findWatch(db, plantId, group, true);
  if (known !== null) return known;
  const began = await readBeginning(db, plantId, group, { most: MOST_AT_FIRST, until });
  await db.query(sql`
    insert into alarm_watch (plant_id, id, line_id, operation_id, drawing_id, began_at, began_id)
    values (${plantId}, ${uuidV7()}, ${lineId}, ${operationId}, ${drawingId}, ${began.at}, ${began.id})
    on conflict do nothing`);
  return lockWatch(db, plantId, group, until);
}

function digestOf(positions: readonly Position[]): string {
  return createHash("sha256")
    .update(positions.map(({ id }) => id).join())
    .digest("hex");
}

/** The newest stored state up to which the frames are still those that it was made of, and the frames behind it. */
function lastSound(
  stored: readonly StoredState[],
  positions: readonly Position[],
): { readonly state: StoredState | null; readonly rest: readonly Position[] } {
  const [first] = stored;
  // Of the oldest state, unless it is the very first one, the frames before it are not looked at any more.
  const isAnchor = first !== undefined && first.place > STATE_EVERY;
  let sound: StoredState | null = isAnchor ? first : null;
  let from = 0;
  for (const next of isAnchor ? stored.slice(1) : stored) {
    const end = from + positions.slice(from).findIndex((one) => isBefore(next, one));
    const own = positions.slice(from, end < from ? positions.length : end);
    if (digestOf(own) !== next.digest) break;
    from += own.length;
    sound = next;
  }
  return { state: sound, rest: positions.slice(from) };
}

async function readStates(db: pg.ClientBase, plantId: string, watchId: string): Promise<StoredState[]> {
  const { rows } = await db.query<StoredState>(sql`
    select place, at, inspection_id as id, digest from alarm_state
    where plant_id = ${plantId} and watch_id = ${watchId} order by place`);
  return rows;
}

async function readStreams(db: pg.ClientBase, plantId: string, watchId: string, place: number): Promise<LineWatch> {
  const { rows } = await db.query<{ streams: LineWatch }>(sql`
    select streams from alarm_state where plant_id = ${plantId} and watch_id = ${watchId} and place = ${place}`);
  return rows[0]?.streams ?? NOTHING_WATCHED;
}

/** What was found behind a state is found anew. */
async function forgetBehind(db: pg.ClientBase, plantId: string, watchId: string, { at, id }: Position): Promise<void> {
  await db.query(sql`
    with states as (delete from alarm_state where plant_id = ${plantId} and watch_id = ${watchId}
      and (at, inspection_id) > (${at}::timestamptz, ${id}::uuid))
    delete from alarm_signal where plant_id = ${plantId} and watch_id = ${watchId}
      and (measured_at, inspection_id) > (${at}::timestamptz, ${id}::uuid)`);
}

type FoundSignal = WatchSignal & { readonly at: Date };

async function storeSignals(
  db: pg.ClientBase,
  plantId: string,
  watchId: string,
  signals: readonly FoundSignal[],
): Promise<void> {
  if (signals.length === 0) return;
  await db.query(sql`
    insert into alarm_signal (plant_id, watch_id, inspection_id, stream, side, test, measured_at)
    select ${plantId}, ${watchId}, r.* from unnest(${signals.map(({ frame }) => frame)}::uuid[],
      ${signals.map(({ key }) => key)}::text[], ${signals.map(({ side }) => side)}::text[],
      ${signals.map(({ test }) => test)}::text[], ${signals.map(({ at }) => at)}::timestamptz[]) as r`);
}

async function storeState(
  db: pg.ClientBase,
  plantId: string,
  watchId: string,
  { place, at, id, digest }: StoredState,
  streams: LineWatch,
): Promise<void> {
  await db.query(sql`
    insert into alarm_state (plant_id, watch_id, place, at, inspection_id, digest, streams)
    values (${plantId}, ${watchId}, ${place}, ${at}, ${id}, ${digest}, ${JSON.stringify(streams)}::jsonb)`);
}

function settingsAt(
  watch: Watch,
  { drawing, boreReadings, schemes, unknownWearSd }: WatchGrounds,
): (at: Date) => WatchSettings {
  const runLength = runLengthAt(schemes, watch);
  const known = {
    baselineFrames: BASELINE_FRAMES,
    startAlpha: START_ALPHA,
    guarded: guardedBy(drawing),
    boreReadings,
    unknownWearSd,
  };
  return (at) => ({ ...known, runLength: (stream) => runLength(stream, at) });
}

function withRestarts(watch: Watch, state: LineWatch, before: Position, frame: Position): LineWatch {
  return watch.restarts.reduce((streams, { keys, at, id }) => {
    const restart = { at: new Date(at), id };
    const isHere = isBefore(before, restart) && !isBefore(frame, restart);
    return isHere ? restartStreams(streams, keys) : streams;
  }, state);
}

type Begins = readonly { readonly after: Position; readonly begin: (watch: LineWatch) => LineWatch }[];

/** What streams begin with between two frames. */
async function readBegins(
  db: pg.ClientBase,
  plantId: string,
  watch: Watch,
  grounds: WatchGrounds,
  { before, last }: { readonly before: Position; readonly last: Position },
): Promise<Begins> {
  const due = watch.starts.filter(({ after }) => !isBefore(after, before) && isBefore(after, last));
  const begins = [];
  for (const start of due)
    begins.push({ after: start.after, begin: await readBegin(db, plantId, watch.id, start, grounds) });
  return begins;
}

function withBegins(begins: Begins, state: LineWatch, before: Position, frame: Position): LineWatch {
  return begins.reduce(
    (streams, { after, begin }) => (!isBefore(after, before) && isBefore(after, frame) ? begin(streams) : streams),
    state,
  );
}

type Beginning = {
  readonly state: StoredState | null;
  readonly rest: readonly Position[];
  readonly streams: LineWatch;
};

/** From where a watch goes on: the newest sound state, or one before it where frames of a baseline were withdrawn since. */
async function beginningOf(
  db: pg.ClientBase,
  plantId: string,
  watch: Watch,
  stored: readonly StoredState[],
  window: readonly Position[],
): Promise<Beginning> {
  const from = async (of: readonly StoredState[]): Promise<Beginning> => {
    const { state, rest } = lastSound(of, window);
    const streams = state === null ? NOTHING_WATCHED : await readStreams(db, plantId, watch.id, state.place);
    return { state, rest, streams };
  };
  const newest = await from(stored);
  const stale = staleSince(watch.starts, newest.streams);
  if (stale === null) return newest;
  const earlier = stored.filter((one) => !isBefore(stale, one));
  // What lies before the oldest state is not looked at any more.
  const isKept = earlier.length > 0 || stored[0]?.place === STATE_EVERY;
  return isKept ? from(earlier) : newest;
}

/** Where a watch stands after its newest frame. */
export type Advanced = {
  /** Its frames from the oldest stored state on, in their order: what cases are gathered from. */
  readonly window: readonly Position[];
  readonly streams: LineWatch["streams"];
  /** There is more to go on with. */
  readonly isMore: boolean;
};

type Run = {
  readonly window: readonly Position[];
  readonly from: StoredState | null;
  readonly watch: LineWatch;
  readonly place: number;
  readonly newest: Position;
  readonly signals: readonly FoundSignal[];
  readonly states: readonly { readonly state: StoredState; readonly watch: LineWatch }[];
  readonly isMore: boolean;
};

/** Runs a watch on by some hundred frames from where it is stored; nothing is written. */
async function runOn(
  db: pg.ClientBase,
  plantId: string,
  watch: Watch,
  grounds: WatchGrounds,
  until: Date,
): Promise<Run> {
  const stored = await readStates(db, plantId, watch.id);
  const began = { at: watch.beganAt, id: watch.beganId };
  const oldest = stored[0];
  const after = oldest === undefined || oldest.place === STATE_EVERY ? began : oldest;
  const window = await readPositions(db, plantId, watch, { after, until });
  const { state: from, rest, streams } = await beginningOf(db, plantId, watch, stored, window);
  const slice = rest.slice(0, SLICE);
  const rows = await readWatchedRows(
    db,
    plantId,
    slice.map(({ id }) => id),
  );
  const settings = settingsAt(watch, grounds);
  let now = streams;
  let place = from?.place ?? 0;
  let newest: Position = from ?? began;
  let since: Position[] = [];
  const signals: FoundSignal[] = [];
  const states: { state: StoredState; watch: LineWatch }[] = [];
  const begins = await readBegins(db, plantId, watch, grounds, { before: newest, last: rows.at(-1) ?? newest });
  for (const row of rows) {
    now = withBegins(begins, withRestarts(watch, now, newest, row), newest, row);
    const step = watchFrame(now, watchedFrame(row), settings(row.at));
    now = step.watch;
    signals.push(...step.signals.map((signal) => ({ ...signal, at: row.at })));
    place += 1;
    newest = row;
    since.push(row);
    if (place % STATE_EVERY !== 0) continue;
    states.push({ state: { place, at: row.at, id: row.id, digest: digestOf(since) }, watch: now });
    since = [];
  }
  return { window, from, watch: now, place, newest, signals, states, isMore: slice.length < rest.length };
}

/**
 * Goes on with a locked watch by some hundred frames, from the newest stored state before which nothing has changed: what came late or
 * was withdrawn is found by the keys of the frames since. The same frames give the same signals, in however many parts they came.
 *
 * @param until - frames measured later are left for another time
 */
export async function advanceWatch(
  db: pg.ClientBase,
  plantId: string,
  watch: Watch,
  grounds: WatchGrounds,
  until: Date,
): Promise<Advanced> {
  const run = await runOn(db, plantId, watch, grounds, until);
  const { window, place, newest, isMore } = run;
  await forgetBehind(db, plantId, watch.id, run.from ?? BEFORE_ALL);
  for (const { state, watch: streams } of run.states) await storeState(db, plantId, watch.id, state, streams);
  await storeSignals(db, plantId, watch.id, run.signals);
  await db.query(sql`
    with pruned as (delete from alarm_state where plant_id = ${plantId} and watch_id = ${watch.id}
      and place <= ${place - STATE_EVERY * STATES_KEPT})
    update alarm_watch set place = ${place}, newest_at = ${newest.at}, newest_id = ${newest.id}
    where plant_id = ${plantId} and id = ${watch.id}`);
  return { window, streams: run.watch.streams, isMore };
}

/**
 * Where a watch stands behind its newest frame, with what was approved since, as far as one run of some hundred frames comes; nothing
 * is written.
 */
export async function standingOf(
  db: pg.ClientBase,
  plantId: string,
  watch: Watch,
  grounds: WatchGrounds,
): Promise<LineWatch> {
  const until = watch.newestAt ?? watch.beganAt;
  const run = await runOn(db, plantId, watch, grounds, until);
  let now = run.watch;
  for (const start of watch.starts.filter(({ after }) => !isBefore(after, run.newest)))
    now = (await readBegin(db, plantId, watch.id, start, grounds))(now);
  return now;
}
