import "server-only";
import type pg from "pg";
import { alarmKeyOf, ALARM_STREAMS } from "@/lib/quality/alarm/alarm-streams";
import type { WatchedStream } from "@/lib/quality/alarm/watch-line";
import type { Case, Signal } from "@/lib/quality/cases/case";
import { foundCase, spanOf, type FoundCase } from "@/lib/quality/cases/found-case";
import { gatherCases } from "@/lib/quality/cases/gather-cases";
import { loneFrames } from "@/lib/quality/cases/lone-frames";
import { matchCases, type RecordedCase } from "@/lib/quality/cases/match-cases";
import { uuidV7 } from "@/lib/schemas/identifier";
import { driftCaseColumns } from "../db/columns/drift-case";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import type { ReferenceData } from "../evidence/reference-data";
import { lockChain } from "../journal/append-journal";
import { canonicalJson } from "../journal/canonical-json";
import { type WrittenEvent, writeEvents } from "../outbox/write-events";
import type { Watch } from "./advance-watch";
import type { WatchGrounds } from "./watch-grounds";
import { isBeforeStart } from "./baseline-starts";
import { CASES_CHAIN, type NewEntry, writeEntries } from "./case-entries";
import { type GatheredLine, type LineEvent, readCaseLine, type StoredSignal } from "./case-line";
import { type Position, readWatchedRows, type WatchedRow } from "./watched-frames";

const recorded = driftCaseColumns("c", [
  "id",
  "number",
  "state",
  "found",
  "signals",
  "overAt",
  "openedAt",
  "closedAt",
  "times",
  "stands",
]);
type RecordedRow = RowOf<typeof recorded>;

/** Frames by which events may lie beside the interval of a start and are near it. */
const NEAR_FRAMES = 2;

async function readRecorded(db: pg.ClientBase, plantId: string, watchId: string): Promise<RecordedRow[]> {
  const { rows } = await db.query<RecordedRow>(sql`
    select ${recorded} from drift_case c where c.plant_id = ${plantId} and c.watch_id = ${watchId} and c.state <> 'joined'
    order by c.number`);
  return rows;
}

async function readSignals(
  db: pg.ClientBase,
  plantId: string,
  watchId: string,
  from: Date,
): Promise<(StoredSignal & { readonly at: Date })[]> {
  const { rows } = await db.query<StoredSignal & { at: Date }>(sql`
    select inspection_id as "inspectionId", stream, side, test, measured_at as at from alarm_signal
    where plant_id = ${plantId} and watch_id = ${watchId} and measured_at >= ${from}
    order by measured_at, inspection_id, stream`);
  return rows;
}

type Gathered = { readonly found: Case; readonly signals: readonly string[] };

/** A signal by its frame and stream; the components of the offset are one stream. */
function signalName({ place, feature }: Signal, rows: readonly WatchedRow[]): string {
  return `${rows[place]?.id ?? ""} ${alarmKeyOf(feature) ?? feature}`;
}

function eventsNear(found: Case, events: readonly LineEvent[]): FoundCase["events"] {
  const { earliest, latest } = found.since;
  return events
    .filter(({ place }) => place >= earliest - NEAR_FRAMES && place <= latest + NEAR_FRAMES)
    .map(({ id, kind, at, text, subject }) => ({ id, kind, at: at.toISOString(), text, subject }));
}

/**
 * The cases that the signals make. Those of a case that is open for longer than the frames which are looked at are its own; where a
 * stream has no baseline yet, its frames outside a limit are cases by themselves.
 */
function gatherAll({ line, signals }: GatheredLine, old: readonly RecordedRow[]): Case[] {
  const isOfOld = ({ feature, sign }: Signal): boolean =>
    old.some(({ found }) => found.members.some((one) => one.feature === feature && one.sign === sign));
  const asked = signals.filter((signal) => !isOfOld(signal));
  const gathered = gatherCases(line, asked);
  const known = new Set(gathered.flatMap((one) => one.signals));
  const lone = loneFrames(
    line,
    asked.filter((signal) => signal.test === "outside" && !known.has(signal)),
  );
  return [...gathered, ...lone];
}

/** Frames of a tool's life where the line tells none. A choice, no source. */
const USUAL_TOOL_LIFE = 330;

/** Frames until the tool is changed as it usually is, by the distances of its changes. */
function framesToChange({ line, events }: GatheredLine): number {
  const places = events.filter(({ kind }) => kind === "tool").map(({ place }) => place);
  const [first, last] = [places[0] ?? 0, places.at(-1) ?? 0];
  const life = places.length > 1 ? (last - first) / (places.length - 1) : USUAL_TOOL_LIFE;
  return Math.max(0, Math.round(life - (line.frames.length - last)));
}

/** Tells once of a trend that meets its limit before the tool is changed. */
function forecastOf(id: string, { found, times }: Draft, line: GatheredLine): WrittenEvent[] {
  const { kind, framesToLimit } = found;
  const planned = framesToChange(line);
  if (kind !== "trend" || framesToLimit === null || framesToLimit === 0 || framesToLimit >= planned) return [];
  const payload = { id, framesToLimit, framesToChange: planned };
  return [{ topic: "case.forecast", payload, occurrence: `${id} ${times}` }];
}

/** A record as it is to be written now. */
type Draft = {
  readonly found: FoundCase;
  readonly signals: readonly string[];
  readonly sinceAt: Date;
  readonly openedAt: Date;
  readonly overAt: Date | null;
  readonly times: number;
};

function draftOf(
  occurrences: readonly number[],
  gathered: readonly Gathered[],
  { line, events }: GatheredLine,
  rows: readonly WatchedRow[],
): Draft | null {
  const own = occurrences.flatMap((place) => gathered[place] ?? []);
  const newest = own.at(-1);
  const first = own[0];
  if (newest === undefined || first === undefined) return null;
  const serials = line.frames.map(({ serial }) => serial);
  const { found } = newest;
  const earlier = own.slice(0, -1).map((one) => spanOf(one.found, serials));
  const at = (place: number): Date => rows[place]?.at ?? new Date(0);
  return {
    found: foundCase(found, serials, { events: eventsNear(found, events), earlier }),
    signals: own.flatMap(({ signals }) => signals),
    sinceAt: at(found.since.place),
    openedAt: at(first.found.signals[0]?.place ?? first.found.since.place),
    overAt: found.until === null ? null : at(found.until),
    times: own.length,
  };
}

/** Work on one record: what it becomes, what is said of it, and who is told. */
type Change = {
  readonly entries: NewEntry[];
  readonly events: WrittenEvent[];
};

async function insertCase(
  db: pg.ClientBase,
  plantId: string,
  watch: Watch,
  draft: Draft,
  isHistory: boolean,
  { entries, events }: Change,
): Promise<string> {
  const id = uuidV7();
  const isClosed = isHistory && draft.overAt !== null;
  await db.query(sql`
    insert into drift_case (plant_id, id, number, watch_id, line_id, operation_id, drawing_id, state, found, signals, since_at, opened_at,
      over_at, times, closed_at)
    select ${plantId}, ${id}, coalesce(max(number), 0) + 1, ${watch.id}, ${watch.lineId}, ${watch.operationId}, ${watch.drawingId},
      ${isClosed ? "closed" : "open"}, ${canonicalJson(draft.found)}::jsonb, ${draft.signals}, ${draft.sinceAt}, ${draft.openedAt},
      ${draft.overAt}, ${draft.times}, ${isClosed ? draft.overAt : null}
    from drift_case where plant_id = ${plantId}`);
  entries.push({ caseId: id, kind: "opened", data: { serial: draft.found.foundAt } });
  if (isClosed) entries.push({ caseId: id, kind: "earlier" });
  else events.push({ topic: "case.opened", payload: { id } });
  return id;
}

async function updateCase(
  db: pg.ClientBase,
  plantId: string,
  row: RecordedRow,
  draft: Draft,
  signals: ReadonlyMap<string, Date>,
  { entries, events }: Change,
): Promise<void> {
  const known = new Set(row.signals);
  const added = draft.signals.filter((signal) => !known.has(signal));
  if (row.state === "closed") {
    const isLater = added.some((signal) => (signals.get(signal) ?? new Date(0)) > (row.closedAt ?? new Date(0)));
    if (!isLater && draft.times <= row.times) {
      if (added.length === 0) return;
      // A closed case stays as it was closed; what came late for it is noted.
      entries.push({ caseId: row.id, kind: "late", data: { signals: added.length } });
      await db.query(sql`
        update drift_case set signals = ${draft.signals} where plant_id = ${plantId} and id = ${row.id}`);
      return;
    }
  }
  const isBack = draft.times > row.times || row.state === "closed";
  if (isBack) {
    entries.push({ caseId: row.id, kind: "back", data: { serial: draft.found.since.serial } });
    events.push({ topic: "case.back", payload: { id: row.id } });
  } else if (row.overAt === null && draft.overAt !== null) {
    entries.push({ caseId: row.id, kind: "over", data: { serial: draft.found.until } });
  }
  await db.query(sql`
    update drift_case set state = 'open', closed_at = null, found = ${canonicalJson(draft.found)}::jsonb, signals = ${draft.signals},
      since_at = ${draft.sinceAt}, over_at = ${draft.overAt}, times = ${Math.max(row.times, draft.times)}, stands = true,
      version = version + 1
    where plant_id = ${plantId} and id = ${row.id} and (state <> 'open' or not stands or over_at is distinct from ${draft.overAt}
      or found <> ${canonicalJson(draft.found)}::jsonb or signals <> ${draft.signals}::text[])`);
}

/** A stream of a case began with an approved baseline since: what it showed before is not looked at any more, and the case stays. */
function isBegunAnew(own: readonly string[], at: ReadonlyMap<string, Date>, { starts }: Watch): boolean {
  return own.some((signal) => {
    const [id = "", stream] = signal.split(" ");
    const key = ALARM_STREAMS.find((one) => one.key === stream)?.key;
    const moment = at.get(signal);
    return key !== undefined && moment !== undefined && isBeforeStart(starts, key, { at: moment, id });
  });
}

/** A case that is open for longer than the frames which are looked at is over when its streams are at rest. */
async function endOld(
  db: pg.ClientBase,
  plantId: string,
  row: RecordedRow,
  { streams, window }: FollowGrounds,
  { entries }: Change,
): Promise<void> {
  const keys = row.signals.map((signal) => signal.split(" ")[1]);
  const isOut = streams.some(({ key, running }) => keys.includes(key) && running?.state.isOut === true);
  if (row.overAt !== null || isOut) return;
  entries.push({ caseId: row.id, kind: "over" });
  await db.query(sql`
    update drift_case set over_at = ${window.at(-1)?.at ?? row.openedAt}, version = version + 1
    where plant_id = ${plantId} and id = ${row.id}`);
}

async function markGone(db: pg.ClientBase, plantId: string, row: RecordedRow, { entries }: Change): Promise<void> {
  if (!row.stands) return;
  const [inspectionId] = (row.signals[0] ?? "").split(" ");
  const { rows } = await db.query<{ withdrawn: boolean }>(sql`
    select exists (select from inspection_withdrawal where plant_id = ${plantId} and inspection_id = ${inspectionId}) as withdrawn`);
  entries.push({ caseId: row.id, kind: "gone", data: { withdrawn: rows[0]?.withdrawn ?? false } });
  await db.query(sql`
    update drift_case set stands = false, version = version + 1 where plant_id = ${plantId} and id = ${row.id}`);
}

async function joinCase(
  db: pg.ClientBase,
  plantId: string,
  { id, into }: { readonly id: string; readonly into: string },
  { entries }: Change,
): Promise<void> {
  entries.push({ caseId: id, kind: "joined", data: { into } });
  await db.query(sql`
    update drift_case set state = 'joined', joined_to = ${into}, version = version + 1
    where plant_id = ${plantId} and id = ${id}`);
}

/** Batches that are held and have frames of a case outside a limit belong to it. */
async function linkBatches(db: pg.ClientBase, plantId: string, watchId: string, now: Date): Promise<void> {
  await db.query(sql`
    insert into case_batch (plant_id, case_id, batch_id, linked_at)
    select distinct ${plantId}::uuid, c.id, b.id, ${now}::timestamptz
    from drift_case c cross join lateral jsonb_array_elements_text(c.found -> 'outside') as o(serial)
    join frame f on f.plant_id = c.plant_id and f.serial = o.serial
    join batch b on b.plant_id = f.plant_id and b.id = f.batch_id
    where c.plant_id = ${plantId} and c.watch_id = ${watchId} and c.state = 'open' and b.held_at is not null
    on conflict do nothing`);
}

export type FollowGrounds = {
  readonly watch: Watch;
  readonly grounds: WatchGrounds;
  readonly reference: ReferenceData;
  readonly operation: string;
  readonly streams: readonly WatchedStream[];
  readonly window: readonly Position[];
  /** Nothing of this group was ever looked at: what is over by now is history, and nobody is told of it. */
  readonly isHistory: boolean;
};

/** Rows of the starting baselines and of the window. */
async function readRows(db: pg.ClientBase, plantId: string, { streams, window }: FollowGrounds): Promise<WatchedRow[]> {
  const baselines = streams.flatMap(({ running }) => running?.baseline ?? []);
  return readWatchedRows(db, plantId, [...new Set([...baselines, ...window.map(({ id }) => id)])]);
}

/**
 * Brings the cases on record in line with what the signals of a group say now: opens, fits anew, ends, joins, and says where one is
 * back or stands no more. Called again with nothing new it changes nothing.
 *
 * @param given.watch - locked by this transaction
 */
export async function followCases(db: pg.ClientBase, plantId: string, given: FollowGrounds, now: Date): Promise<void> {
  const { watch, window } = given;
  const from = window[0]?.at;
  if (from === undefined) return;
  const signals = await readSignals(db, plantId, watch.id, from);
  const records = await readRecorded(db, plantId, watch.id);
  if (signals.length === 0 && records.every(({ state }) => state !== "open")) return;
  const rows = await readRows(db, plantId, given);
  const gatheredLine = await readCaseLine(db, plantId, { ...given, rows, signals });
  const old = records.filter(({ state, openedAt }) => state === "open" && openedAt < from);
  const gathered = gatherAll(gatheredLine, old).map((found): Gathered => ({
    found,
    signals: found.signals.map((signal) => signalName(signal, rows)),
  }));
  const at = new Map(signals.map((one) => [`${one.inspectionId} ${one.stream}`, one.at]));
  const begunAnew = records.filter(({ state, signals: own }) => state === "open" && isBegunAnew(own, at, watch));
  const matched = matchCases(
    records.flatMap((record): RecordedCase[] => {
      const { id, signals: own, state, openedAt } = record;
      if (state === "joined") return [];
      return [{ id, signals: own, state, isLookedAt: openedAt >= from && !begunAnew.includes(record) }];
    }),
    gathered.map(({ found, signals: own }) => ({ signals: own, backAgain: found.backAgain })),
  );
  const change: Change = { entries: [], events: [] };
  // Numbers and entries are given one after the other.
  const head = await lockChain(db, plantId, CASES_CHAIN);
  for (const { id, occurrences } of matched.records) {
    const draft = draftOf(occurrences, gathered, gatheredLine, rows);
    const row = records.find((one) => one.id === id);
    if (draft === null) continue;
    if (row !== undefined) await updateCase(db, plantId, row, draft, at, change);
    const own = row?.id ?? (await insertCase(db, plantId, watch, draft, given.isHistory, change));
    if (row?.state !== "closed" && !given.isHistory) change.events.push(...forecastOf(own, draft, gatheredLine));
  }
  const found = new Set(matched.records.map(({ id }) => id));
  const unfound = begunAnew.filter((row) => !old.includes(row) && !found.has(row.id));
  for (const row of [...old, ...unfound]) await endOld(db, plantId, row, given, change);
  for (const each of matched.joined) await joinCase(db, plantId, each, change);
  for (const id of matched.gone) {
    const row = records.find((one) => one.id === id);
    if (row !== undefined) await markGone(db, plantId, row, change);
  }
  await writeEntries(
    db,
    plantId,
    head,
    change.entries,
    { actor: "system", personId: null, action: "cases.followed" },
    now,
  );
  await linkBatches(db, plantId, watch.id, now);
  await writeEvents(db, plantId, change.events, now);
}
