import { listStations } from "@/lib/server/line/queries";
import { defineRoute, refuseOthers } from "@/lib/server/doors/route";

/** Stations that a device can be set up for. */
export const GET = defineRoute({
  auth: "viewer",
  handler: async ({ viewer }) => ({ stations: await listStations(viewer) }),
});
export const { POST, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("GET");
