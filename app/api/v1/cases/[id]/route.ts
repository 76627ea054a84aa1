import { caseParamsSchema } from "@/lib/schemas/case";
import { readCase } from "@/lib/server/cases/queries";
import { defineRoute, refuseOthers } from "@/lib/server/doors/route";

/** One case with its causes, its history and the batches that it explains. */
export const GET = defineRoute({
  auth: "viewer",
  schemas: { params: caseParamsSchema },
  handler: ({ viewer, params }) => readCase(viewer, params.id),
});
export const { POST, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("GET");
