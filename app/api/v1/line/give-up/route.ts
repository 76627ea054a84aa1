import { giveUpFrameSchema } from "@/lib/schemas/line";
import { giveUpFrame } from "@/lib/server/inspections/lease-frame";
import { defineRoute, refuseOthers } from "@/lib/server/doors/route";

/** Gives up a started measurement. */
export const POST = defineRoute({
  auth: "viewer",
  schemas: { body: giveUpFrameSchema },
  handler: ({ viewer, body }) => giveUpFrame(viewer, body),
});
export const { GET, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("POST");
