import "server-only";
import type pg from "pg";
import { alarmBudget, SHORTEST_ALARM_RUN } from "@/lib/core/control/alarm/alarm-budget";
import { ALARM_STREAMS, type AlarmStream } from "@/lib/quality/alarm/alarm-streams";
import { FEWEST_BASELINE_FRAMES } from "@/lib/quality/alarm/starting-stretch";
import { uuidV7 } from "@/lib/schemas/identifier";
import { inspectionColumns } from "../db/columns/inspection";
import { streamColumns } from "../db/columns/stream";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { appendToLockedChain, lockChain } from "../journal/append-journal";
import { canonicalJson } from "../journal/canonical-json";
import { subjectsOf } from "../journal/row-hashes";
import type { FrameGroup } from "./watched-frames";

/** False cases a working week that a plant bears where it has not said otherwise. */
export const DEFAULT_BUDGET = 1;
/** No run length is longer: nobody would know the difference. */
const LONGEST_RUN = 1e7;
/** Frames a week are counted over so long. Common practice, no source. */
const COUNTED_DAYS = 28;

export type SchemeStream = FrameGroup & {
  readonly key: AlarmStream["key"];
  /** Frames a working week. */
  readonly frames: number;
  readonly runLength: number;
};

export type AlarmScheme = {
  readonly version: number;
  readonly budget: number;
  readonly streams: readonly SchemeStream[];
  readonly expected: number;
  /** "frames": some streams have twice as many frames a week as the version before took, or half as many. */
  readonly reason: "first" | "streams" | "frames" | "budget";
  readonly effectiveFrom: Date;
  readonly createdAt: Date;
};

/** All versions of the scheme, the newest first; none where nothing was ever watched. */
export async function readSchemes(db: pg.ClientBase | pg.Pool, plantId: string): Promise<AlarmScheme[]> {
  const { rows } = await db.query<AlarmScheme>(sql`
    select version, budget, streams, expected, reason, effective_from as "effectiveFrom", created_at as "createdAt"
    from alarm_scheme where plant_id = ${plantId} order by version desc`);
  return rows;
}

const ofStream = streamColumns("st", ["lineId", "operationId", "drawingId"]);
type Watched = RowOf<typeof ofStream> & { readonly features: readonly string[] };

/** The streams of a plant that have a value, and the frames a week of each group. */
async function readStreams(db: pg.ClientBase, plantId: string): Promise<Omit<SchemeStream, "runLength">[]> {
  const { rows: groups } = await db.query<Watched>(sql`
    select ${ofStream}, array_agg(st.feature order by st.feature) as features
    from stream st where st.plant_id = ${plantId} and st.points > 0
    group by st.line_id, st.operation_id, st.drawing_id order by 1, 2, 3`);
  const streams: Omit<SchemeStream, "runLength">[] = [];
  for (const { features, ...group } of groups) {
    const frames = await framesAWeek(db, plantId, group);
    for (const { key } of ALARM_STREAMS)
      // Whoever sweeps a seat has its offset, too.
      if (features.includes(key === "offset" ? "nds.tilt" : key)) streams.push({ ...group, key, frames });
  }
  return streams;
}

const counted = inspectionColumns("i", { newestAt: "measuredAt" });

async function framesAWeek(db: pg.ClientBase, plantId: string, group: FrameGroup): Promise<number> {
  const { lineId, operationId, drawingId } = group;
  const { rows } = await db.query<RowOf<typeof counted> & { frames: number; days: number }>(sql`
    with newest as (
      select ${counted} from inspection i
      where i.plant_id = ${plantId} and i.line_id = ${lineId} and i.operation_id = ${operationId} and i.drawing_id = ${drawingId}
        and i.ordinal = 1 order by i.measured_at desc limit 1)
    select n."newestAt", count(*)::int as frames,
      greatest(7, extract(epoch from n."newestAt" - min(i.measured_at)) / 86400)::float8 as days
    from newest n join inspection i on i.plant_id = ${plantId} and i.line_id = ${lineId} and i.operation_id = ${operationId}
      and i.drawing_id = ${drawingId} and i.ordinal = 1 and i.measured_at > n."newestAt" - make_interval(days => ${COUNTED_DAYS})
    group by n."newestAt"`);
  const found = rows[0];
  return found === undefined ? 0 : (found.frames / found.days) * 7;
}

const nameOf = ({ lineId, operationId, drawingId, key }: Omit<SchemeStream, "frames" | "runLength">): string =>
  `${lineId} ${operationId} ${drawingId} ${key}`;

/** Spreads a budget over the streams that there are now and writes it as a new version, with its entry in the journal. */
export async function spreadBudget(
  db: pg.ClientBase,
  plantId: string,
  how: {
    readonly budget: number;
    readonly reason: AlarmScheme["reason"];
    readonly personId: string | null;
    readonly actor: string;
    readonly effectiveFrom: Date;
  },
  now: Date,
): Promise<void> {
  const head = await lockChain(db, plantId, "setup");
  const streams = await readStreams(db, plantId);
  const spread =
    streams.length === 0
      ? { streams: [], expected: 0 }
      : alarmBudget(
          streams.map((one) => ({ id: nameOf(one), frames: one.frames })),
          how.budget,
        );
  const runLengthOf = (at: number) => Math.min(LONGEST_RUN, spread.streams[at]?.runLength ?? SHORTEST_ALARM_RUN);
  const shares = streams.map((one, at) => ({ ...one, runLength: runLengthOf(at) }));
  const id = uuidV7(now.getTime());
  const { rows } = await db.query<{ version: number }>(sql`
    insert into alarm_scheme (plant_id, id, version, budget, streams, expected, reason, effective_from, created_at, person_id)
    select ${plantId}, ${id}, coalesce(max(version), 0) + 1, ${how.budget}, ${canonicalJson(shares)}::jsonb, ${spread.expected},
      ${how.reason}, ${how.effectiveFrom}, ${now}, ${how.personId}
    from alarm_scheme where plant_id = ${plantId} returning version`);
  await appendToLockedChain(db, head, {
    plantId,
    chain: "setup",
    at: now,
    actor: how.actor,
    action: "alarms.budget-spread",
    subjects: await subjectsOf(db, plantId, "alarm_scheme", [id]),
    payload: { version: rows[0]?.version, budget: how.budget, streams: streams.length, reason: how.reason },
  });
}

/** Whether some stream may be tested already: before, all its frames are those of its starting stretch. */
async function isTesting(db: pg.ClientBase, plantId: string): Promise<boolean> {
  const { rowCount } = await db.query(sql`
    select from alarm_watch where plant_id = ${plantId} and place >= ${FEWEST_BASELINE_FRAMES} limit 1`);
  return rowCount !== 0;
}

/** By how much the frames of a stream have to change before the budget is spread anew. A choice, no source. */
const OTHER_RATE = 2;

function isOtherRate({ frames }: Pick<SchemeStream, "frames">, before: number): boolean {
  return frames > OTHER_RATE * before || frames < before / OTHER_RATE;
}

/**
 * Spreads the budget anew where a stream has joined since the newest version, or is measured far more or less often: the first look at
 * a new line knows a frame or two of its week.
 */
export async function spreadOverNewStreams(db: pg.ClientBase, plantId: string, now: Date): Promise<void> {
  // Two lines that begin at once make one version.
  await lockChain(db, plantId, "setup");
  const [newest] = await readSchemes(db, plantId);
  const known = new Map((newest?.streams ?? []).map((one) => [nameOf(one), one.frames]));
  const streams = await readStreams(db, plantId);
  const isJoined = streams.some((one) => !known.has(nameOf(one)));
  const isOther = streams.some((one) => isOtherRate(one, known.get(nameOf(one)) ?? one.frames));
  if (newest !== undefined && !isJoined && !isOther) return;
  await spreadBudget(
    db,
    plantId,
    {
      budget: newest?.budget ?? DEFAULT_BUDGET,
      reason: newest === undefined ? "first" : isJoined ? "streams" : "frames",
      personId: null,
      actor: "system",
      // Until anything is tested it does not matter which frame came first.
      effectiveFrom: (await isTesting(db, plantId)) ? now : new Date(0),
    },
    now,
  );
}

/**
 * Run length of a group's streams at a moment: of the newest version that held then and has the stream, else of the oldest that has it.
 */
export function runLengthAt(
  schemes: readonly AlarmScheme[],
  group: FrameGroup,
): (stream: AlarmStream, at: Date) => number {
  const known = new Map<string, { readonly from: Date; readonly runLength: number }[]>();
  for (const { streams, effectiveFrom: from } of schemes)
    for (const one of streams) {
      const name = nameOf(one);
      known.set(name, [...(known.get(name) ?? []), { from, runLength: one.runLength }]);
    }
  return ({ key }, at) => {
    const versions = known.get(nameOf({ ...group, key })) ?? [];
    return (versions.find(({ from }) => from <= at) ?? versions.at(-1))?.runLength ?? SHORTEST_ALARM_RUN;
  };
}
