import { z } from "zod";
import { programBuild } from "@/lib/server/line/program-build";
import { getStationPackage, listBatchFrames } from "@/lib/server/line/queries";
import { defineRoute, refuseOthers } from "@/lib/server/doors/route";
import { getFirstOffState } from "@/lib/server/gate/first-off";
import { uuidSchema } from "@/lib/schemas/uuid";

/** Batches whose frames go with the package, so that a station without a network knows its serials. */
const BATCHES_WITH_FRAMES = 12;

/** Everything a device needs at one station, also when the network is gone. */
export const GET = defineRoute({
  auth: "viewer",
  schemas: { params: z.object({ id: uuidSchema }) },
  handler: async ({ viewer, params }) => {
    const [station, firstOff] = await Promise.all([
      getStationPackage(viewer, params.id),
      getFirstOffState(viewer, params.id),
    ]);
    const open = station.batches.filter((batch) => batch.measured < batch.frames).slice(0, BATCHES_WITH_FRAMES);
    const listed = open.length > 0 ? open : station.batches.slice(0, 3);
    const frames = await Promise.all(
      listed.map(async (batch) => {
        const plan = station.plans.find((one) => one.planId === batch.planId);
        const planned = plan?.frames ?? { kind: "all" as const };
        return { batch: batch.key, frames: await listBatchFrames(viewer, batch, planned, params.id) };
      }),
    );
    return { ...station, frames, firstOff, build: programBuild() };
  },
});
export const { POST, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("GET");
