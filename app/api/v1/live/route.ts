import { liveEvents } from "@/lib/server/live/event-stream";
import { defineRoute, refuseOthers } from "@/lib/server/doors/route";

export const dynamic = "force-dynamic";

/** Server-sent events: what was measured, as it happens. */
export const GET = defineRoute({
  auth: "viewer",
  handler: ({ viewer, request }) => liveEvents(viewer, request.signal),
});
export const { POST, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("GET");
