import { askGaugeStudy } from "@/lib/server/compute/ask-gauge-study";
import { defineRoute, refuseOthers } from "@/lib/server/doors/route";

/** What the readings of a gauge study say: repeatability, reproducibility, bias, linearity, agreement. Stores nothing. */
export const POST = defineRoute({ auth: "viewer", handler: ({ viewer, request }) => askGaugeStudy(viewer, request) });
export const { GET, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("POST");
