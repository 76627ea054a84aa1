import "server-only";
import { streamValue } from "@/lib/quality/control-limits";
import { sampleMean, sampleSd } from "@/lib/core/numerics/descriptive-statistics";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { featureNamed, type FeatureName } from "@/lib/core/metrology/features";
import { WATCHED_FRAMES, watchForecast, type WatchForecast } from "@/lib/quality/watch-forecast";
import { PRESENT_FRAMES } from "@/lib/quality/stream-finding";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { limitSetColumns } from "../db/columns/limit-set";
import { lineColumns } from "../db/columns/line";
import { operationColumns } from "../db/columns/operation";
import { streamColumns } from "../db/columns/stream";
import { type RowOf, orNull, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import {
  offsetOf,
  readChartedFrames,
  readEvents,
  streamOf,
  type ChartedFrame,
  type StreamEvent,
} from "./charted-frames";
import { casesOfFeature, groupKey, readOpenCases, type StreamCase } from "./stream-cases";
import { toleranceOf, type StreamTolerance } from "./stream-tolerance";

export type StreamListItem = {
  readonly id: string;
  readonly lineId: string;
  readonly line: string;
  readonly lineName: string;
  readonly operation: string;
  readonly operationName: string;
  readonly drawing: string;
  readonly feature: FeatureName;
  readonly points: number;
  readonly lastAt: string | null;
  /** Open cases that are about it, oldest first: without one it is quiet. */
  readonly cases: readonly Pick<StreamCase, "id" | "number">[];
  readonly limits: "approved" | "not approved" | "provisional" | "none";
  /** The newest values, oldest first, for a small line; the last of them is frame `points` of the stream. */
  readonly recent: readonly number[];
  readonly control: { readonly center: number; readonly lower: number | null; readonly upper: number | null } | null;
  readonly tolerance: StreamTolerance | null;
  /** Distance of the present level from the nearest proven limit, in standard deviations of one frame. */
  readonly margin: number | null;
  /** Where the tool in use wears it towards its limit within the next weeks. */
  readonly forecast: WatchForecast | null;
};

/** Where features can be charted together on the clock: one line, operation and drawing with its offset. */
export type OffsetListItem = {
  readonly line: string;
  readonly operation: string;
  readonly operationName: string;
  readonly drawing: string;
  readonly frames: number;
  readonly zoneUm: number | null;
  /** The newest offsets, oldest first, µm towards 12 and towards 3. */
  readonly recent: readonly (readonly [number, number])[];
};

export type StreamList = { readonly streams: readonly StreamListItem[]; readonly offsets: readonly OffsetListItem[] };

const listed = together(
  streamColumns("st", ["id", "lineId", "operationId", "drawingId", "feature", "points", "lastAt"]),
  lineColumns("l", { line: "key", lineName: "name" }),
  operationColumns("o", { operation: "key", operationName: "name" }),
  orNull(limitSetColumns("ls", ["provisional", "center", "lower", "upper"])),
);

type ListRow = RowOf<typeof listed> & {
  drawing: ShellDrawing;
  approved: boolean | null;
};

const DAY_MS = 86_400_000;

function limitsState(row: ListRow): StreamListItem["limits"] {
  if (row.center === null) return "none";
  if (row.approved) return "approved";
  return row.provisional ? "provisional" : "not approved";
}

/** How far the present level is from the nearest limit that it can be proven against. */
function marginOf(recent: readonly number[], tolerance: StreamTolerance | null): number | null {
  const present = recent.slice(-PRESENT_FRAMES);
  if (tolerance === null || present.length < 8) return null;
  const { lower, upper, uncertainty } = tolerance;
  const level = sampleMean(present);
  const distances = [
    ...(lower === null ? [] : [level - lower - uncertainty]),
    ...(upper === null ? [] : [upper - uncertainty - level]),
  ];
  const sd = sampleSd(present);
  return distances.length === 0 || !(sd > 0) ? null : Math.min(...distances) / sd;
}

async function readListRows(plantId: string, line: string | undefined): Promise<ListRow[]> {
  const { rows } = await getPool().query<ListRow>(sql`
    select ${listed},
      (select r.content from drawing_revision r where r.plant_id = st.plant_id and r.drawing_id = st.drawing_id
        and r.state = 'released' order by r.released_at desc limit 1) as drawing,
      ls.approved_at is not null as approved
    from stream st
    join line l on l.plant_id = st.plant_id and l.id = st.line_id
    join operation o on o.plant_id = st.plant_id and o.id = st.operation_id
    left join limit_set ls on ls.plant_id = st.plant_id and ls.id = st.limit_set_id
    where st.plant_id = ${plantId} and st.points > 0 and (${line ?? null}::text is null or l.key = ${line ?? null})
    order by l.key, o.position, st.feature, st.id limit 2000`);
  return rows;
}

type GroupFrames = { readonly frames: readonly ChartedFrame[]; readonly events: readonly StreamEvent[] };

async function readGroup(plantId: string, row: ListRow): Promise<GroupFrames> {
  const frames = await readChartedFrames(plantId, row, WATCHED_FRAMES);
  const events = await readEvents(plantId, row.lineId, new Date(frames[0]?.at ?? 0));
  return { frames, events };
}

type ChartedValue = Pick<ChartedFrame, "at" | "tool"> & { readonly value: number };

/** What a tool does to the mean of a bore; nothing of anything else, or without a limit. */
function forecastOf(
  feature: FeatureName,
  charted: readonly ChartedValue[],
  events: readonly StreamEvent[],
  tolerance: StreamTolerance | null,
): WatchForecast | null {
  const { characteristic, statistic } = featureNamed(feature);
  const last = charted.at(-1);
  if (characteristic !== "bore" || statistic !== "mean" || tolerance === null || last === undefined) return null;
  const { lower, upper, uncertainty } = tolerance;
  const days = new Set(charted.map(({ at }) => Math.floor(at / DAY_MS)));
  return watchForecast({
    values: charted.map(({ value }) => value),
    tools: charted.map(({ tool }) => tool),
    limits: {
      lower: lower === null ? null : lower + uncertainty,
      upper: upper === null ? null : upper - uncertainty,
    },
    framesADay: charted.length / days.size,
    isChanged: events.some(({ kind, at }) => kind === "reamer changed" && Date.parse(at) > last.at),
  });
}

function itemOf(row: ListRow, { frames, events }: GroupFrames, open: readonly StreamCase[]): StreamListItem {
  const stream = streamOf(row.feature);
  const charted = frames.flatMap((frame): ChartedValue[] => {
    const value = streamValue(stream, frame.features);
    return value === null ? [] : [{ at: frame.at, tool: frame.tool, value }];
  });
  const recent = charted.map((one) => one.value);
  const tolerance = toleranceOf(row.drawing, row.feature);
  const { id, lineId, line, lineName, operation, operationName, feature, points } = row;
  return {
    id,
    lineId,
    line,
    lineName,
    operation,
    operationName,
    drawing: row.drawing.key,
    feature,
    points,
    lastAt: row.lastAt?.toISOString() ?? null,
    cases: casesOfFeature(open, feature).map(({ id: caseId, number }) => ({ id: caseId, number })),
    limits: limitsState(row),
    recent,
    control: row.center === null ? null : { center: row.center, lower: row.lower, upper: row.upper },
    tolerance,
    margin: marginOf(recent, tolerance),
    forecast: forecastOf(feature, charted, events, tolerance),
  };
}

/** Streams with open cases first, the one nearest to its limit first; then quiet streams in the order of the drawing. */
function byUrgency(a: StreamListItem, b: StreamListItem): number {
  const rank = (item: StreamListItem) => (item.cases.length > 0 ? 0 : 1);
  if (rank(a) !== rank(b)) return rank(a) - rank(b);
  return rank(a) === 0 ? (a.margin ?? Infinity) - (b.margin ?? Infinity) : 0;
}

function offsetsOf(row: ListRow, { frames }: GroupFrames): OffsetListItem[] {
  const recent = frames.flatMap(({ features }) => {
    const vector = offsetOf(features);
    return vector === null ? [] : [vector];
  });
  if (recent.length === 0) return [];
  const zone = row.drawing.characteristics.find((one) => one.name === "coaxiality");
  const { line, operation, operationName } = row;
  return [
    {
      line,
      operation,
      operationName,
      drawing: row.drawing.key,
      frames: recent.length,
      zoneUm: zone?.upper ?? null,
      recent,
    },
  ];
}

/** Streams by urgency, and the offsets of each line. */
export async function listStreams(
  viewer: Viewer,
  filter: { readonly line?: string | undefined } = {},
): Promise<StreamList> {
  assertMay(viewer, "drift.view");
  const [rows, open] = await Promise.all([readListRows(viewer.plantId, filter.line), readOpenCases(viewer.plantId)]);
  const groups = new Map<string, { row: ListRow; read: Promise<GroupFrames> }>();
  for (const row of rows)
    if (!groups.has(groupKey(row))) groups.set(groupKey(row), { row, read: readGroup(viewer.plantId, row) });
  const read = new Map<string, GroupFrames>();
  for (const [key, group] of groups) read.set(key, await group.read);
  const none: GroupFrames = { frames: [], events: [] };
  return {
    streams: rows
      .map((row) => itemOf(row, read.get(groupKey(row)) ?? none, open.get(groupKey(row)) ?? []))
      .sort(byUrgency),
    offsets: [...groups].flatMap(([key, { row }]) => offsetsOf(row, read.get(key) ?? none)),
  };
}
