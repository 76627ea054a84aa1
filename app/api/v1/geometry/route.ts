import { askGeometry } from "@/lib/server/compute/ask-geometry";
import { defineRoute, refuseOthers } from "@/lib/server/doors/route";

/** What the readings of one shell mean, by the same core as everything else. Stores nothing. */
export const POST = defineRoute({ auth: "viewer", handler: ({ viewer, request }) => askGeometry(viewer, request) });
export const { GET, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("POST");
