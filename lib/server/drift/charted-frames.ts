import "server-only";
import { FEATURE_NAMES } from "@/lib/core/metrology/features";
import { AppError } from "@/lib/errors";
import type { ToldCharacteristic } from "@/lib/quality/judge-frame";
import { CHARTED_STREAMS, type ChartedStream } from "@/lib/quality/control-limits";
import { getPool } from "../db/client";
import { eventColumns, notCorrected } from "../db/columns/event";
import { frameColumns } from "../db/columns/frame";
import { inspectionColumns, notWithdrawn } from "../db/columns/inspection";
import { personColumns } from "../db/columns/person";
import { type RowOf, orNull, together } from "../db/columns/table-columns";
import { constant, sql } from "../db/sql";

/** One line, operation and drawing: its frames are charted together. */
export type FrameGroup = { readonly lineId: string; readonly operationId: string; readonly drawingId: string };

const chartedColumns = together(
  inspectionColumns("i", ["features", "verdict", "tool", "fixture"]),
  inspectionColumns("i", { inspectionId: "id", reasons: "judgement" }),
  frameColumns("f", ["serial"]),
  orNull(personColumns("p", { inspector: "name" })),
);

/** One charted inspection with what may explain its value. */
export type ChartedFrame = RowOf<typeof chartedColumns> & {
  /** What of it was not shown to conform. */
  readonly reasons: readonly ToldCharacteristic[];
  /** Corrected time of measurement, milliseconds since 1970. */
  readonly at: number;
  /** A reading of it was confirmed after a question, or is off the scale: what rests on that is charted nowhere. */
  readonly odd: boolean;
  /** Of the first reading, which is one of the bore. */
  readonly gauge: string | null;
};

export function streamOf(feature: string): ChartedStream {
  const found = CHARTED_STREAMS.find((one) => one.feature === feature);
  if (!found) throw new AppError("not-found", `Nothing is charted for ${feature}. Choose a stream under Drift.`);
  return found;
}

const OLDEST = constant("i.measured_at, i.id");
const NEWEST = constant("i.measured_at desc, i.id desc");

/**
 * The charted inspections of a group, oldest first: the first of each frame that was not withdrawn.
 *
 * @param range - only those measured in it; without it the newest
 * @param limit - how many of the newest at most; of the oldest where the range asks for its first ones
 */
export async function readChartedFrames(
  plantId: string,
  group: FrameGroup,
  limit: number,
  range: { readonly from?: Date; readonly to?: Date; readonly first?: boolean } = {},
): Promise<ChartedFrame[]> {
  const { rows } = await getPool().query<ChartedFrame>(sql`
    select ${chartedColumns}, (extract(epoch from i.measured_at) * 1000)::float8 as at,
      i.states && array[2, 3, 4]::int2[] as odd, i.gauge_keys[i.gauges[1] + 1] as gauge
    from inspection i
    join frame f on f.plant_id = i.plant_id and f.id = i.frame_id
    left join person p on p.plant_id = i.plant_id and p.id = i.inspector_id
    where i.plant_id = ${plantId} and i.line_id = ${group.lineId} and i.operation_id = ${group.operationId}
      and i.drawing_id = ${group.drawingId} and i.ordinal = 1
      and (${range.from ?? null}::timestamptz is null or i.measured_at >= ${range.from ?? null})
      and (${range.to ?? null}::timestamptz is null or i.measured_at <= ${range.to ?? null})
      and ${notWithdrawn}
    order by ${range.first === true ? OLDEST : NEWEST} limit ${limit}`);
  return range.first === true ? rows : rows.reverse();
}

export type StreamEvent = {
  readonly id: string;
  readonly kind: string;
  readonly at: string;
  readonly text: string;
  readonly subject: string | null;
};

const eventsOfLine = eventColumns("event", ["id", "kind", "at", "text", "subject"]);

/** What people did on a line, or for all lines, since a time. */
export async function readEvents(plantId: string, lineId: string, from: Date): Promise<StreamEvent[]> {
  const { rows } = await getPool().query<RowOf<typeof eventsOfLine>>(sql`
    select ${eventsOfLine} from event
    where plant_id = ${plantId} and (line_id = ${lineId} or line_id is null) and at >= ${from}
      and ${notCorrected} order by at, id limit 500`);
  return rows.map((row) => ({ ...row, at: row.at.toISOString() }));
}

const PLACE_OF_OFFSET = { twelve: FEATURE_NAMES.indexOf("offset.12"), three: FEATURE_NAMES.indexOf("offset.3") };

/** Offset of the swept seat from the datum axis, µm towards 12 and towards 3; null where it was not measured. */
export function offsetOf(features: readonly (number | null)[]): readonly [number, number] | null {
  const twelve = features[PLACE_OF_OFFSET.twelve] ?? null;
  const three = features[PLACE_OF_OFFSET.three] ?? null;
  return twelve === null || three === null ? null : [twelve, three];
}
