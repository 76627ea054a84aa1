import { samplingRequestSchema } from "@/lib/schemas/sampling";
import { defineRoute, refuseOthers } from "@/lib/server/doors/route";
import { answerSampling } from "@/lib/server/gate/answer-sampling";

/** A sampling plan with its operating characteristic, risks and outgoing quality. Stores nothing. */
export const POST = defineRoute({
  auth: "viewer",
  schemas: { body: samplingRequestSchema },
  handler: ({ viewer, body }) => answerSampling(viewer, body),
});
export const { GET, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("POST");
