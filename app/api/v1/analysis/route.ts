import { askAnalysis } from "@/lib/server/compute/ask-analysis";
import { defineRoute, refuseOthers } from "@/lib/server/doors/route";

/** Charts, run rules, run lengths, capability and their kin of numbers sent. Stores nothing. */
export const POST = defineRoute({ auth: "viewer", handler: ({ viewer, request }) => askAnalysis(viewer, request) });
export const { GET, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("POST");
