import { shipFrameSchema } from "@/lib/schemas/shipment";
import { defineRoute, refuseOthers } from "@/lib/server/doors/route";
import { shipFrame } from "@/lib/server/shipments/ship-frame";

/** Ships a frame, or refuses with every reason. Both are recorded; the answer is in the body, not in the status. */
export const POST = defineRoute({
  auth: "viewer",
  schemas: { body: shipFrameSchema },
  handler: ({ viewer, body }) => shipFrame(viewer, body),
});
export const { GET, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("POST");
