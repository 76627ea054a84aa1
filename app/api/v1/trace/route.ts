import { traceBackSchema } from "@/lib/schemas/trace-back";
import { defineRoute, refuseOthers } from "@/lib/server/doors/route";
import { traceBack } from "@/lib/server/gauges/trace-back";

/** Frames, batches and decisions that rest on a gauge, ring, inspector, device or revision in a stretch of time. */
export const GET = defineRoute({
  auth: "viewer",
  schemas: { query: traceBackSchema },
  handler: ({ viewer, query }) => traceBack(viewer, query),
});
export const { POST, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("GET");
