import { z } from "zod";
import { csvTable } from "@/lib/schemas/csv-row";
import { formatInstant } from "@/lib/format/date-text";
import { formatFixed } from "@/lib/format/number-text";
import { streamUnit } from "@/lib/format/stream-words";
import { assertMay } from "@/lib/server/auth/permissions";
import { defineRoute, refuseOthers } from "@/lib/server/doors/route";
import { readWhyFrames } from "@/lib/server/drift/why-frames";
import { whySearchSchema, whySpan } from "../../why-span";

/** The frames of a comparison as CSV: every number as it was computed and as it is shown, with what it was made and measured with. */
export const GET = defineRoute({
  auth: "viewer",
  schemas: {
    params: z.object({ id: z.string().max(64) }),
    query: whySearchSchema,
  },
  handler: async ({ viewer, params, query }) => {
    assertMay(viewer, "records.export");
    const { plantZone: zone } = viewer;
    const { head, frames } = await readWhyFrames(viewer, params.id, query.by, whySpan(query, zone));
    const { feature, line } = head;
    const { unit, decimals } = streamUnit(feature);
    const csv = csvTable(
      [
        ...["serial", "measured_at", "shift_from", `${feature}, ${unit}`, `shown_${unit}`, "inspector", "gauge"],
        ...["tool", "fixture", "mould", "supplier", "line"],
      ],
      frames.map(({ serial, at, shiftAt, value, labels }) => [
        serial,
        formatInstant(at, zone),
        formatInstant(shiftAt, zone),
        value,
        formatFixed(value, decimals),
        ...[
          labels.inspector,
          labels.gauge,
          labels.tool,
          labels.fixture,
          labels.mould,
          labels.supplier,
          labels.line,
        ].map((label) => label ?? ""),
      ]),
    );
    const name = `${line}-${feature}-by-${query.by}`.replace(/[^A-Za-z0-9.-]/g, "_");
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
