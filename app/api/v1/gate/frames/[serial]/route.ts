import { z } from "zod";
import { defineRoute, refuseOthers } from "@/lib/server/doors/route";
import { enquireFrame } from "@/lib/server/shipments/ship-frame";

/** May this frame ship? Changes nothing; an unknown serial is answered with stop. */
export const GET = defineRoute({
  auth: "viewer",
  schemas: { params: z.object({ serial: z.string().trim().min(1).max(64) }) },
  handler: ({ viewer, params }) => enquireFrame(viewer, params.serial),
});
export const { POST, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("GET");
