import { z } from "zod";
import { enquireBatch } from "@/lib/server/gate/queries";
import { defineRoute, refuseOthers } from "@/lib/server/doors/route";

/** May this batch ship, and why not? By identifier or key; changes nothing. */
export const GET = defineRoute({
  auth: "viewer",
  schemas: { params: z.object({ id: z.string().trim().min(1).max(64) }) },
  handler: ({ viewer, params }) => enquireBatch(viewer, params.id),
});
export const { POST, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("GET");
