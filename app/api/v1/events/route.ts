import { sentEventSchema } from "@/lib/schemas/event";
import { defineRoute, refuseOthers } from "@/lib/server/doors/route";
import { recordSentEvent } from "@/lib/server/events/commands";

/** Records what was done at a machine: a reamer changed, a fixture shimmed. */
export const POST = defineRoute({
  auth: "viewer",
  schemas: { body: sentEventSchema },
  handler: async ({ viewer, body }) => {
    await recordSentEvent(viewer, body);
    return { id: body.id, status: "recorded" };
  },
});
export const { GET, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("POST");
