import "server-only";
import type { OffsetVector } from "@/lib/core/capability/offset-capability";
import type { FeatureName } from "@/lib/core/metrology/features";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { streamValue } from "@/lib/quality/control-limits";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { driftCaseColumns } from "../db/columns/drift-case";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { offsetOf, readChartedFrames, streamOf } from "../drift/charted-frames";
import { type StreamTolerance, toleranceOf } from "../drift/stream-tolerance";

/** Frames before a change and from its first frame on that its picture shows. */
const SHOWN = { before: 80, after: 320 } as const;

export type CaseFrames = {
  /** Oldest first. */
  readonly frames: readonly {
    readonly serial: string;
    readonly at: number;
    /** Offset of its NDS axis, µm towards 12 and towards 3; null where it was not swept. */
    readonly offset: OffsetVector | null;
  }[];
  /** Value of each frame; null where it has none. */
  readonly streams: readonly {
    readonly feature: FeatureName;
    readonly values: readonly (number | null)[];
    readonly tolerance: StreamTolerance | null;
  }[];
  /** Diameter of the coaxiality zone, µm. */
  readonly zoneUm: number | null;
};

const group = driftCaseColumns("c", ["lineId", "operationId", "drawingId", "sinceAt"]);

/** The frames round the start of a case, with their values in the streams that moved; null where there is no such case. */
export async function readCaseFrames(
  viewer: Viewer,
  caseId: string,
  features: readonly FeatureName[],
  shown: { readonly before: number; readonly after: number } = SHOWN,
): Promise<CaseFrames | null> {
  assertMay(viewer, "drift.view");
  const { plantId } = viewer;
  const { rows } = await getPool().query<RowOf<typeof group> & { drawing: ShellDrawing | null }>(sql`
    select ${group}, (select r.content from drawing_revision r where r.plant_id = c.plant_id and r.drawing_id = c.drawing_id
      and r.state = 'released' order by r.released_at desc limit 1) as drawing
    from drift_case c where c.plant_id = ${plantId} and c.id = ${caseId}`);
  const found = rows[0];
  if (found === undefined) return null;
  const { sinceAt, drawing } = found;
  const [before, after] = await Promise.all([
    readChartedFrames(plantId, found, shown.before, { to: new Date(sinceAt.getTime() - 1) }),
    readChartedFrames(plantId, found, shown.after, { from: sinceAt, first: true }),
  ]);
  const frames = [...before, ...after];
  return {
    frames: frames.map(({ serial, at, features: values }) => ({ serial, at, offset: offsetOf(values) })),
    streams: features.map((feature) => ({
      feature,
      values: frames.map((frame) => streamValue(streamOf(feature), frame.features)),
      tolerance: drawing === null ? null : toleranceOf(drawing, feature),
    })),
    zoneUm: drawing?.characteristics.find(({ name }) => name === "coaxiality")?.upper ?? null,
  };
}
