import { z } from "zod";
import { csvTable } from "@/lib/schemas/csv-row";
import { formatInstant } from "@/lib/format/date-text";
import { formatFixed } from "@/lib/format/number-text";
import { streamUnit } from "@/lib/format/stream-words";
import { getStream, MOST_FRAMES } from "@/lib/server/drift/queries";
import { assertMay } from "@/lib/server/auth/permissions";
import { defineRoute, refuseOthers } from "@/lib/server/doors/route";

/** The points of a stream as CSV: every number as it was computed and as it is shown, every moment by the plant's clock. */
export const GET = defineRoute({
  auth: "viewer",
  schemas: {
    params: z.object({ id: z.string().max(64) }),
    query: z.object({ frames: z.coerce.number().int().min(1).max(MOST_FRAMES).default(200) }),
  },
  handler: async ({ viewer, params, query }) => {
    assertMay(viewer, "records.export");
    const stream = await getStream(viewer, params.id, query.frames);
    const { plantZone: zone } = viewer;
    const { unit, decimals } = streamUnit(stream.feature);
    const signals = new Map<string, string[]>();
    for (const signal of stream.earlierSignals)
      signals.set(signal.inspectionId, [...(signals.get(signal.inspectionId) ?? []), signal.rule]);
    const cases = new Map<string, number[]>();
    for (const one of stream.cases)
      for (const inspection of one.signals) cases.set(inspection, [...(cases.get(inspection) ?? []), one.number]);
    const first = stream.total - stream.points.length + 1;
    const csv = csvTable(
      [
        "frame",
        "serial",
        "measured_at",
        `${stream.feature}, ${unit}`,
        `shown_${unit}`,
        "inspector",
        "gauge",
        "verdict",
        "tool",
        "fixture",
        "cases",
        "signals",
      ],
      stream.points.map((point, index) => [
        first + index,
        point.serial,
        formatInstant(point.at, zone),
        point.value,
        formatFixed(point.value, decimals),
        point.inspector ?? "",
        point.gauge ?? "",
        point.verdict,
        point.tool ?? "",
        point.fixture ?? "",
        (cases.get(point.inspectionId) ?? []).join(" "),
        (signals.get(point.inspectionId) ?? []).join(" "),
      ]),
    );
    const name = `${stream.line}-${stream.feature}`.replace(/[^A-Za-z0-9.-]/g, "_");
    return new Response(csv, {
      headers: {
        "content-type": "text/csv; charset=utf-8",
        "content-disposition": `attachment; filename="${name}.csv"`,
        "cache-control": "no-store",
      },
    });
  },
});
export const { POST, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("GET");
