import { startFrameSchema } from "@/lib/schemas/line";
import { startFrame } from "@/lib/server/inspections/lease-frame";
import { defineRoute, refuseOthers } from "@/lib/server/doors/route";

/** Takes a frame in hand: it cannot ship until its readings are here or it is given up. */
export const POST = defineRoute({
  auth: "viewer",
  schemas: { body: startFrameSchema },
  handler: ({ viewer, body }) => startFrame(viewer, body),
});
export const { GET, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("POST");
