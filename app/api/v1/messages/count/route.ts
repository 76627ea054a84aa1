import { defineRoute, refuseOthers } from "@/lib/server/doors/route";
import { assertMay } from "@/lib/server/auth/permissions";
import { countMessages } from "@/lib/server/messages/inbox";

/** How many messages wait for who asks: what the rail shows. */
export const GET = defineRoute({
  auth: "viewer",
  handler: async ({ viewer }) => {
    assertMay(viewer, "messages.view");
    return { waiting: await countMessages(viewer) };
  },
});
export const { POST, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("GET");
