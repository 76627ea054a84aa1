"use server";

import { refresh } from "next/cache";
import { z } from "zod";
import { zeroErrorText } from "@/lib/format/gauge-words";
import { uuidV7 } from "@/lib/schemas/identifier";
import { recordZeroCheckSchema } from "@/lib/schemas/gauge";
import { typedNumberSchema } from "@/lib/schemas/typed-number";
import { defineAction } from "@/lib/server/doors/action";
import { recordZeroCheck } from "@/lib/server/gauges/commands";
import { GAUGE_WORDS } from "./words";

const zeroCheckForm = z
  .object({ gauge: z.string(), readingMm: typedNumberSchema, occasion: z.string() })
  .transform((form): unknown => ({ ...form, id: uuidV7(Date.now()) }))
  .pipe(recordZeroCheckSchema);

/** A zero check done away from Line: at the bench, in the measuring room. */
export const recordZeroCheckAction = defineAction(zeroCheckForm, async (viewer, input) => {
  const { passed, driftUm, held, escapes } = await recordZeroCheck(viewer, input);
  refresh();
  const error = zeroErrorText(driftUm);
  return passed ? GAUGE_WORDS.page.passedAnswer(error) : GAUGE_WORDS.page.failedAnswer(error, held, escapes);
});
