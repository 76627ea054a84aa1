import "server-only";
import type { OffsetVector } from "@/lib/core/capability/offset-capability";
import { AppError } from "@/lib/errors";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { baselineOf } from "@/lib/quality/baseline";
import { APPROVABLE_FRAMES } from "@/lib/quality/control-limits";
import { OFFSET_SUBJECT } from "@/lib/quality/stream-evaluation";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { limitSetColumns } from "../db/columns/limit-set";
import { lineColumns } from "../db/columns/line";
import { operationColumns } from "../db/columns/operation";
import { streamColumns } from "../db/columns/stream";
import { type RowOf, orNull, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { offsetOf, readChartedFrames, readEvents, type ChartedFrame, type StreamEvent } from "./charted-frames";
import { BASELINE_SEARCH, candidatesFor, readBaselineRows } from "./baseline-frames";
import { MOST_FRAMES } from "./queries";

export type OffsetPoint = Omit<ChartedFrame, "features" | "reasons"> & { readonly offset: OffsetVector };

export type OffsetPage = {
  readonly lineId: string;
  readonly line: string;
  readonly lineName: string;
  readonly operation: string;
  readonly operationName: string;
  readonly drawing: ShellDrawing;
  readonly zoneUm: number | null;
  readonly uncertaintyUm: number | null;
  readonly points: readonly OffsetPoint[];
  /** The stretch that the limits rest on, and where it comes from. */
  readonly baseline: readonly OffsetPoint[];
  readonly baselineWords: string;
  readonly fixtures: readonly string[];
  readonly events: readonly StreamEvent[];
};

const offsetHead = together(
  streamColumns("st", {
    streamId: "id",
    lineId: "lineId",
    operationId: "operationId",
    drawingId: "drawingId",
  }),
  lineColumns("l", { line: "key", lineName: "name" }),
  operationColumns("o", { operation: "key", operationName: "name" }),
  orNull(limitSetColumns("ls", { from: "baselineFrom", to: "baselineTo", version: "version" })),
);
type HeadRow = RowOf<typeof offsetHead> & Pick<OffsetPage, "drawing">;

function pointsOf(frames: readonly ChartedFrame[]): OffsetPoint[] {
  return frames.flatMap(({ features, reasons: _reasons, ...frame }) => {
    const offset = offsetOf(features);
    return offset === null ? [] : [{ ...frame, offset }];
  });
}

/** The stretch that the limits of a group's offset rest on: that of approved limits, else the first frames that may be in it. */
export async function readOffsetBaseline(
  plantId: string,
  head: Pick<HeadRow, "lineId" | "operationId" | "drawingId" | "streamId" | "from" | "to">,
): Promise<OffsetPoint[]> {
  const { from, to } = head;
  const isApproved = from !== null && to !== null;
  const rows = await readBaselineRows(getPool(), plantId, head, {
    from,
    to,
    end: "first",
    most: isApproved ? MOST_FRAMES : BASELINE_SEARCH,
  });
  const size = isApproved ? MOST_FRAMES : APPROVABLE_FRAMES;
  const chosen = baselineOf(candidatesFor(rows, head.streamId, offsetOf), OFFSET_SUBJECT, { size });
  const [first, last] = [chosen[0], chosen.at(-1)];
  if (first === undefined || last === undefined) return [];
  const ids = new Set(chosen.map(({ id }) => id));
  const charted = await readChartedFrames(plantId, head, MOST_FRAMES, { from: first.at, to: last.at });
  return pointsOf(charted.filter(({ inspectionId }) => ids.has(inspectionId)));
}

/**
 * The alignment offset of one line as vectors, with the stretch that its limits rest on: that of the approved limits of the
 * NDS tilt, which the same locator makes; without them the first 100 frames that may be in a baseline.
 *
 * @param filter.frames - how many of the newest frames, at most 5,000
 * @throws AppError not-found
 */
export async function getOffset(
  viewer: Viewer,
  filter: {
    readonly line: string;
    readonly operation?: string | undefined;
    readonly fixture?: string | undefined;
    readonly frames?: number;
    /** Only frames measured up to then. */
    readonly until?: Date | undefined;
  },
): Promise<OffsetPage> {
  assertMay(viewer, "drift.view");
  const { plantId } = viewer;
  const { rows } = await getPool().query<HeadRow>(sql`
    select ${offsetHead},
      (select r.content from drawing_revision r where r.plant_id = st.plant_id and r.drawing_id = st.drawing_id
        and r.state = 'released' order by r.released_at desc limit 1) as drawing
    from stream st
    join line l on l.plant_id = st.plant_id and l.id = st.line_id
    join operation o on o.plant_id = st.plant_id and o.id = st.operation_id
    left join limit_set ls on ls.plant_id = st.plant_id and ls.id = st.limit_set_id and ls.approved_at is not null
    where st.plant_id = ${plantId} and st.feature = 'nds.tilt' and l.key = ${filter.line}
      and (${filter.operation ?? null}::text is null or o.key = ${filter.operation ?? null})
    order by st.points desc, st.id limit 1`);
  const head = rows[0];
  if (!head) throw new AppError("not-found", "No alignment is measured on this line. Choose another under Drift.");
  const newest = await readChartedFrames(
    plantId,
    head,
    Math.min(filter.frames ?? 200, MOST_FRAMES),
    filter.until === undefined ? {} : { to: filter.until },
  );
  const all = pointsOf(newest);
  const baseline = await readOffsetBaseline(plantId, head);
  const coaxiality = head.drawing.characteristics.find((one) => one.name === "coaxiality");
  const { lineId, line, lineName, operation, operationName, drawing } = head;
  const isShown = (point: OffsetPoint) => filter.fixture === undefined || point.fixture === filter.fixture;
  return {
    lineId,
    line,
    lineName,
    operation,
    operationName,
    drawing,
    zoneUm: coaxiality?.upper ?? null,
    uncertaintyUm: coaxiality?.uncertainty ?? null,
    points: all.filter(isShown),
    baseline: baseline.filter(isShown),
    baselineWords: head.version === null ? "first frames of the stream" : `limit set ${head.version} of the NDS tilt`,
    fixtures: [...new Set(all.flatMap((point) => point.fixture ?? []))].sort(),
    events: await readEvents(plantId, lineId, new Date(all[0]?.at ?? 0)),
  };
}
