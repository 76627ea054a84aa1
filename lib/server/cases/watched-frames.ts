import "server-only";
import type pg from "pg";
import { FEATURE_NAMES, type FeatureName } from "@/lib/core/metrology/features";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import type { AlarmStream } from "@/lib/quality/alarm/alarm-streams";
import type { Guarded } from "@/lib/quality/alarm/alarm-region";
import type { WatchedFrame } from "@/lib/quality/alarm/watch-line";
import { failsIn, liesOutside } from "@/lib/quality/baseline";
import { guardBand } from "@/lib/quality/conformity";
import { featureWithoutNoise } from "@/lib/quality/feature-noise";
import type { JudgedCharacteristic } from "@/lib/quality/judge-frame";
import { OFFSET_SUBJECT } from "@/lib/quality/stream-evaluation";
import { batchColumns } from "../db/columns/batch";
import { frameColumns } from "../db/columns/frame";
import { inspectionColumns, notWithdrawn } from "../db/columns/inspection";
import { personColumns } from "../db/columns/person";
import { supplierColumns } from "../db/columns/supplier";
import { orNull, type RowOf, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";

/** One line, operation and drawing: its frames are watched together. */
export type FrameGroup = { readonly lineId: string; readonly operationId: string; readonly drawingId: string };

/** A place in the order of measuring: by time, then by key. */
export type Position = { readonly at: Date; readonly id: string };

export const BEFORE_ALL: Position = { at: new Date(0), id: "00000000-0000-0000-0000-000000000000" };

export function isBefore(one: Position, other: Position): boolean {
  return one.at < other.at || (one.at.getTime() === other.at.getTime() && one.id < other.id);
}

const watched = together(
  inspectionColumns("i", ["id", "readings", "gauges", "gaugeKeys", "planRevisionId", "features", "tool", "fixture"]),
  inspectionColumns("i", { at: "measuredAt", characteristics: "judgement" }),
  frameColumns("f", ["serial", "mould", "batchId"]),
  batchColumns("b", { batch: "key" }),
  supplierColumns("s", { supplier: "key" }),
  orNull(personColumns("p", { inspector: "name" })),
);

/** An inspection as its streams are watched by: the first of a frame that was not withdrawn. */
export type WatchedRow = RowOf<typeof watched> & {
  readonly characteristics: readonly (Pick<JudgedCharacteristic, "name" | "seat" | "verdict" | "value"> & {
    readonly reason?: unknown;
  })[];
};

const positioned = inspectionColumns("i", { id: "id", at: "measuredAt" });

const ofGroup = (plantId: string, { lineId, operationId, drawingId }: FrameGroup) => sql`
  i.plant_id = ${plantId} and i.line_id = ${lineId} and i.operation_id = ${operationId} and i.drawing_id = ${drawingId}
  and i.ordinal = 1 and ${notWithdrawn}`;

/**
 * Where the frames of a group stand in the order of measuring.
 *
 * @param stretch.after - first one left out
 * @param stretch.until - not measured later than then
 */
export async function readPositions(
  db: pg.ClientBase,
  plantId: string,
  group: FrameGroup,
  { after, until }: { readonly after: Position; readonly until: Date },
): Promise<Position[]> {
  const { rows } = await db.query<RowOf<typeof positioned>>(sql`
    select ${positioned} from inspection i
    where ${ofGroup(plantId, group)} and (i.measured_at, i.id) > (${after.at}::timestamptz, ${after.id}::uuid)
      and i.measured_at <= ${until} order by i.measured_at, i.id`);
  return rows;
}

/** The frame from which a group of many is watched: so many of the newest; BEFORE_ALL where there are fewer. */
export async function readBeginning(
  db: pg.ClientBase,
  plantId: string,
  group: FrameGroup,
  { most, until }: { readonly most: number; readonly until: Date },
): Promise<Position> {
  const { rows } = await db.query<RowOf<typeof positioned>>(sql`
    select ${positioned} from inspection i where ${ofGroup(plantId, group)} and i.measured_at <= ${until}
    order by i.measured_at desc, i.id desc offset ${most} limit 1`);
  return rows[0] ?? BEFORE_ALL;
}

/** Frames of a group by their keys, in the order of measuring. */
export async function readWatchedRows(
  db: pg.ClientBase,
  plantId: string,
  ids: readonly string[],
): Promise<WatchedRow[]> {
  if (ids.length === 0) return [];
  const { rows } = await db.query<WatchedRow>(sql`
    select ${watched} from inspection i
    join frame f on f.plant_id = i.plant_id and f.id = i.frame_id
    join batch b on b.plant_id = i.plant_id and b.id = i.batch_id
    join supplier s on s.plant_id = b.plant_id and s.id = b.supplier_id
    left join person p on p.plant_id = i.plant_id and p.id = i.inspector_id
    where i.plant_id = ${plantId} and i.id = any(${ids}::uuid[]) and ${notWithdrawn} order by i.measured_at, i.id`);
  return rows;
}

const PLACE = new Map<FeatureName, number>(FEATURE_NAMES.map((name, place) => [name, place]));

/** A feature of a stored row, taper with its sign; null where it has none. */
export function featureOf({ features }: Pick<WatchedRow, "features">, feature: FeatureName): number | null {
  const value = features[PLACE.get(feature) ?? -1] ?? null;
  return value === null ? null : featureWithoutNoise(value);
}

const subjectOf = ({ key, characteristic, seat }: AlarmStream) =>
  key === "offset" ? OFFSET_SUBJECT : { characteristic, seat };

const DATUM_TILT = { characteristic: "tilt", seat: "ds" } as const;

export function isFailing({ characteristics }: WatchedRow, stream: AlarmStream): boolean {
  return failsIn(characteristics, subjectOf(stream));
}

/** The tilt of the datum seat is the offset again: what it judges speaks there. */
export function isOutside({ characteristics }: WatchedRow, stream: AlarmStream): boolean {
  if (stream.statistic === "range") return false;
  return (
    liesOutside(characteristics, subjectOf(stream)) ||
    (stream.key === "offset" && liesOutside(characteristics, DATUM_TILT))
  );
}

export function watchedFrame(row: WatchedRow): WatchedFrame {
  return {
    id: row.id,
    tool: row.tool,
    value: (feature) => featureOf(row, feature),
    isFailing: (stream) => isFailing(row, stream),
    isOutside: (stream) => isOutside(row, stream),
  };
}

/** Limits of a stream's characteristic, narrowed by the guard band that the drawing's U gives. */
export function guardedBy(drawing: ShellDrawing): (stream: AlarmStream) => Guarded {
  return ({ characteristic }) => {
    const limits = drawing.characteristics.find(({ name }) => name === characteristic);
    if (limits === undefined) return { lower: null, upper: null };
    const guard = guardBand(drawing.decisionRule, limits.uncertainty);
    return {
      lower: limits.lower === null ? null : limits.lower + guard,
      upper: limits.upper === null ? null : limits.upper - guard,
    };
  };
}

/** Diameters of a seat under a plan. */
export function boreReadingsOf(names: readonly { readonly kind: string; readonly seat?: unknown }[]): number {
  return names.filter(({ kind, seat }) => kind === "bore" && seat === "ds").length;
}
