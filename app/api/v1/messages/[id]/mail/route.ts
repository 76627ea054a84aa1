import { z } from "zod";
import { uuidSchema } from "@/lib/schemas/uuid";
import { defineRoute, refuseOthers } from "@/lib/server/doors/route";
import { messageFile } from "@/lib/server/messages/message-file";

/** A message as a mail file, for a plant without a mail server or somebody who passes it on. */
export const GET = defineRoute({
  auth: "viewer",
  schemas: { params: z.object({ id: uuidSchema }) },
  handler: async ({ viewer, params }) =>
    new Response(new Uint8Array(await messageFile(viewer, params.id)), {
      headers: {
        "content-type": "message/rfc822",
        "content-disposition": `attachment; filename="shellgate-message.eml"`,
        "cache-control": "no-store",
      },
    }),
});
export const { POST, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("GET");
