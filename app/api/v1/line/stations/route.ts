import { listStations } from "@/lib/server/line/queries";
import { defineRoute } from "@/lib/server/route";

/** Stations that a device can be set up for. */
export const GET = defineRoute({
  auth: "viewer",
  handler: async ({ viewer }) => ({ stations: await listStations(viewer) }),
});
