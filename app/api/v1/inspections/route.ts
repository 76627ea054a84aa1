import { APP_ERROR_STATUS, AppError } from "@/lib/errors";
import { postInspectionsSchema } from "@/lib/schemas/inspection";
import { recordInspection, recordInspections } from "@/lib/server/inspections/record-inspections";
import { defineRoute } from "@/lib/server/route";

const MAX_BODY_BYTES = 4 * 2 ** 20;

const problemOf = ({ code, userMessage, fields, details }: AppError) => ({
  code,
  status: APP_ERROR_STATUS[code],
  detail: userMessage,
  ...(fields.length === 0 ? {} : { fields }),
  ...(Object.keys(details).length === 0 ? {} : { details }),
});

/** Records one inspection, or many: the good ones are kept whatever happens to the others. */
export const POST = defineRoute({
  auth: "viewer",
  schemas: { body: postInspectionsSchema },
  maxBodyBytes: MAX_BODY_BYTES,
  handler: async ({ viewer, body }) => {
    if (!("inspections" in body)) return recordInspection(viewer, body);
    const outcomes = await recordInspections(viewer, body.inspections);
    const refused = outcomes.filter((one) => one.status === "refused").length;
    return {
      recorded: outcomes.length - refused,
      refused,
      results: outcomes.map((one) => (one.status === "refused" ? { ...one, error: problemOf(one.error) } : one)),
    };
  },
});
