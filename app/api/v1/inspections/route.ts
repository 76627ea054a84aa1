import { APP_ERROR_STATUS, AppError } from "@/lib/errors";
import { z } from "zod";
import {
  isMeantAsMany,
  manyInspectionsSchema,
  recordInspectionSchema,
  type RecordInspection,
} from "@/lib/schemas/inspection";
import type { Viewer } from "@/lib/server/auth/viewer";
import { recordInspection, recordInspections } from "@/lib/server/inspections/record-inspections";
import type { InspectionRefused, RecordingOutcome } from "@/lib/server/inspections/recorded";
import { parseInput } from "@/lib/server/base/parse-input";
import { defineRoute, refuseOthers } from "@/lib/server/doors/route";
import { inSlices } from "@/lib/server/base/take-turns";

const MAX_BODY_BYTES = 4 * 2 ** 20;

const problemOf = ({ code, userMessage, fields, details }: AppError) => ({
  code,
  status: APP_ERROR_STATUS[code],
  detail: userMessage,
  ...(fields.length === 0 ? {} : { fields }),
  ...(Object.keys(details).length === 0 ? {} : { details }),
});

type Result = Exclude<RecordingOutcome, InspectionRefused> | RefusedResult;
type RefusedResult = {
  id: string | null;
  serial: string | null;
  status: "refused";
  error: ReturnType<typeof problemOf>;
};

const textOf = (value: unknown, key: string): string | null => {
  const found = typeof value === "object" && value !== null ? (value as Record<string, unknown>)[key] : null;
  return typeof found === "string" ? found.slice(0, 64) : null;
};

/** Checks each of many by itself: what is no inspection is refused, the others are recorded. */
async function recordMany(viewer: Viewer, bodies: readonly unknown[]) {
  const results: Result[] = [];
  const good: { at: number; input: RecordInspection }[] = [];
  const slices = inSlices();
  for (const [at, body] of bodies.entries()) {
    if (slices.isOver()) await slices.next();
    try {
      good.push({ at, input: parseInput(recordInspectionSchema, body) });
    } catch (error) {
      if (!(error instanceof AppError)) throw error;
      results[at] = {
        id: textOf(body, "id"),
        serial: textOf(body, "serial"),
        status: "refused",
        error: problemOf(error),
      };
    }
  }
  const outcomes = await recordInspections(
    viewer,
    good.map(({ input }) => input),
  );
  outcomes.forEach((outcome, index) => {
    const at = good[index]?.at ?? index;
    results[at] = outcome.status === "refused" ? { ...outcome, error: problemOf(outcome.error) } : outcome;
  });
  const refused = results.filter((one) => one.status === "refused").length;
  return { recorded: results.length - refused, refused, results };
}

/** Records one inspection, or many: the good ones are kept whatever happens to the others. */
export const POST = defineRoute({
  auth: "viewer",
  schemas: { body: z.unknown() },
  maxBodyBytes: MAX_BODY_BYTES,
  partsByThemselves: true,
  handler: ({ viewer, body }) => {
    if (!isMeantAsMany(body)) return recordInspection(viewer, parseInput(recordInspectionSchema, body));
    return recordMany(viewer, parseInput(manyInspectionsSchema, body, { textsLater: true }).inspections);
  },
});
export const { GET, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("POST");
