import { formatInstant } from "@/lib/format/date-text";
import { csvTable } from "@/lib/schemas/csv-row";
import { traceBackSchema } from "@/lib/schemas/trace-back";
import { assertMay } from "@/lib/server/auth/permissions";
import { defineRoute, refuseOthers } from "@/lib/server/doors/route";
import { traceBack } from "@/lib/server/gauges/trace-back";
import { TRACE_WORDS } from "../../words";

/** Every frame of a trace back as CSV, shipped ones first. */
export const GET = defineRoute({
  auth: "viewer",
  schemas: { query: traceBackSchema },
  handler: async ({ viewer, query }) => {
    assertMay(viewer, "records.export");
    const { list, name } = await traceBack(viewer, query, Infinity);
    const at = (time: string | null) => (time === null ? "" : formatInstant(time, viewer.plantZone));
    const csv = csvTable(
      TRACE_WORDS.csvColumns,
      list.map((frame) => [
        frame.serial,
        frame.batch,
        frame.supplier,
        frame.line,
        frame.state,
        frame.verdict ?? "",
        at(frame.shippedAt),
        at(frame.firstAt),
        at(frame.lastAt),
        frame.inspections,
        frame.openEscape ? "yes" : "no",
      ]),
    );
    return new Response(csv, {
      headers: {
        "content-type": "text/csv; charset=utf-8",
        "content-disposition": `attachment; filename="${`rests on ${name}`.replace(/[^A-Za-z0-9.-]/g, "_")}.csv"`,
        "cache-control": "no-store",
      },
    });
  },
});
export const { POST, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("GET");
