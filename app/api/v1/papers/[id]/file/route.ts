import { z } from "zod";
import { uuidSchema } from "@/lib/schemas/uuid";
import { defineRoute, refuseOthers } from "@/lib/server/doors/route";
import { paperFile } from "@/lib/server/papers/papers";

/** A document as a PDF file. */
export const GET = defineRoute({
  auth: "viewer",
  schemas: { params: z.object({ id: uuidSchema }) },
  handler: async ({ viewer, params }) => {
    const { fileName, content } = await paperFile(viewer, params.id);
    return new Response(new Uint8Array(content), {
      headers: {
        "content-type": "application/pdf",
        "content-disposition": `attachment; filename="${fileName}"`,
        "cache-control": "no-store",
      },
    });
  },
});
export const { POST, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("GET");
