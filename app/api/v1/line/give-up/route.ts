import { giveUpFrameSchema } from "@/lib/schemas/line";
import { giveUpFrame } from "@/lib/server/inspections/lease-frame";
import { defineRoute } from "@/lib/server/route";

/** Gives up a started measurement. */
export const POST = defineRoute({
  auth: "viewer",
  schemas: { body: giveUpFrameSchema },
  handler: ({ viewer, body }) => giveUpFrame(viewer, body),
});
