import { analysisRequestSchema } from "@/lib/schemas/analysis";
import { analyse } from "@/lib/server/analysis/analyse";
import { defineRoute, refuseOthers } from "@/lib/server/route";

/** Charts, run rules, run lengths, capability and their kin of numbers sent. Stores nothing. */
export const POST = defineRoute({
  auth: "viewer",
  schemas: { body: analysisRequestSchema },
  maxBodyBytes: 4 * 2 ** 20,
  handler: ({ viewer, body }) => analyse(viewer, body),
});
export const { GET, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("POST");
