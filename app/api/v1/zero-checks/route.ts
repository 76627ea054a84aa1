import { recordZeroCheckSchema } from "@/lib/schemas/gauge";
import { recordZeroCheck } from "@/lib/server/gauges/commands";
import { defineRoute, refuseOthers } from "@/lib/server/doors/route";

/** Records the check of a comparator in its setting ring, and says what rests on the gauge where it failed. */
export const POST = defineRoute({
  auth: "viewer",
  schemas: { body: recordZeroCheckSchema },
  handler: ({ viewer, body }) => recordZeroCheck(viewer, body),
});
export const { GET, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("POST");
