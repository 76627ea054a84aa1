import { gaugeParamsSchema, traceGaugeSchema } from "@/lib/schemas/gauge";
import { traceGauge } from "@/lib/server/gauges/queries";
import { defineRoute, refuseOthers } from "@/lib/server/doors/route";

/** Frames, batches and shipments that rest on one gauge in a stretch of time. */
export const GET = defineRoute({
  auth: "viewer",
  schemas: { params: gaugeParamsSchema, query: traceGaugeSchema },
  handler: ({ viewer, params, query }) => traceGauge(viewer, params.key, query),
});
export const { POST, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("GET");
