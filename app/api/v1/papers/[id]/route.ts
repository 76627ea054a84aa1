import { z } from "zod";
import { uuidSchema } from "@/lib/schemas/uuid";
import { defineRoute, refuseOthers } from "@/lib/server/doors/route";
import { paperState } from "@/lib/server/papers/papers";

/** How far a document is: its share in percent, whether it is there, why it could not be made. */
export const GET = defineRoute({
  auth: "viewer",
  schemas: { params: z.object({ id: uuidSchema }) },
  handler: ({ viewer, params }) => paperState(viewer, params.id),
});
export const { POST, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("GET");
