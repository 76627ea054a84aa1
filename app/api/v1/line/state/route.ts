import { reportDeviceSchema } from "@/lib/schemas/line";
import { programBuild } from "@/lib/server/line/program-build";
import { reportDevice } from "@/lib/server/line/report-device";
import { defineRoute, refuseOthers } from "@/lib/server/route";

/** A device says how it is and learns the server's time and build. */
export const POST = defineRoute({
  auth: "viewer",
  schemas: { body: reportDeviceSchema },
  handler: async ({ viewer, body }) => ({ ...(await reportDevice(viewer, body)), build: programBuild() }),
});
export const { GET, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("POST");
