import { withdrawInspectionSchema } from "@/lib/schemas/line";
import { withdrawInspection } from "@/lib/server/inspections/withdraw-inspection";
import { defineRoute, refuseOthers } from "@/lib/server/doors/route";

/** Withdraws an inspection with a reason, by somebody other than who made it. */
export const POST = defineRoute({
  auth: "viewer",
  schemas: { body: withdrawInspectionSchema },
  handler: ({ viewer, body }) => withdrawInspection(viewer, body),
});
export const { GET, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("POST");
