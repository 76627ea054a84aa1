import { z } from "zod";
import { getAttachment } from "@/lib/server/attachments/queries";
import { defineRoute, refuseOthers } from "@/lib/server/doors/route";
import { uuidSchema } from "@/lib/schemas/uuid";

/** The bytes of an attachment; they never change, so that the browser keeps them. */
export const GET = defineRoute({
  auth: "viewer",
  schemas: { params: z.object({ id: uuidSchema }) },
  handler: async ({ viewer, params }) => {
    const { bytes, mediaType } = await getAttachment(viewer, params.id);
    return new Response(bytes, {
      headers: {
        "content-type": mediaType,
        "cache-control": "private, max-age=31536000, immutable",
        "x-content-type-options": "nosniff",
        // In the built application next.config.ts says it first; here for whoever runs the routes otherwise.
        "content-security-policy": "default-src 'none'; sandbox",
      },
    });
  },
});
export const { POST, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("GET");
