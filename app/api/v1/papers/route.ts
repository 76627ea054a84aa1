import { askPaperSchema } from "@/lib/schemas/paper";
import { defineRoute, refuseOthers } from "@/lib/server/doors/route";
import { askPaper } from "@/lib/server/papers/papers";

/** Asks for a document; the worker makes it. */
export const POST = defineRoute({
  auth: "viewer",
  schemas: { body: askPaperSchema },
  handler: async ({ viewer, body }) => {
    await askPaper(viewer, body);
    return { id: body.id, status: "asked" };
  },
});
export const { GET, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("POST");
