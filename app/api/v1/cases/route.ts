import { listCasesSchema } from "@/lib/schemas/case";
import { listCases } from "@/lib/server/cases/queries";
import { defineRoute, refuseOthers } from "@/lib/server/doors/route";

/** Cases of the plant, the newest first: each one change of one line. */
export const GET = defineRoute({
  auth: "viewer",
  schemas: { query: listCasesSchema },
  handler: ({ viewer, query }) => listCases(viewer, query),
});
export const { POST, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("GET");
