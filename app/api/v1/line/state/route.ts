import { reportDeviceSchema } from "@/lib/schemas/line";
import { deviceCookie } from "@/lib/server/auth/device-cookie";
import { tieToDevice } from "@/lib/server/auth/device-tie";
import { programBuild } from "@/lib/server/line/program-build";
import { reportDevice } from "@/lib/server/line/report-device";
import { defineRoute, refuseOthers } from "@/lib/server/doors/route";

/** A device says how it is, learns the server's time and build, and is known by a cookie from then on. */
export const POST = defineRoute({
  auth: "viewer",
  schemas: { body: reportDeviceSchema },
  handler: async ({ viewer, body }) => {
    const report = { ...(await reportDevice(viewer, body)), build: programBuild() };
    const isDevice = viewer.kind === "person" && (await tieToDevice(viewer, body.deviceId));
    const headers = { "cache-control": "no-store" };
    if (!isDevice || viewer.provenDevice === body.deviceId) return Response.json(report, { headers });
    return Response.json(report, {
      headers: { ...headers, "set-cookie": deviceCookie(viewer.plantId, body.deviceId) },
    });
  },
});
export const { GET, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("POST");
