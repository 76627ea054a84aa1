"use server";

import { randomInt } from "node:crypto";
import { refresh } from "next/cache";
import { redirect } from "next/navigation";
import { z } from "zod";
import { zeroErrorText } from "@/lib/format/gauge-words";
import { uuidV7 } from "@/lib/schemas/identifier";
import { recordZeroCheckSchema } from "@/lib/schemas/gauge";
import { keyStudyReadingSchema, planStudySchema } from "@/lib/schemas/gauge-study";
import { optionalNumberSchema, typedNumberSchema } from "@/lib/schemas/typed-number";
import { defineAction } from "@/lib/server/doors/action";
import { recordZeroCheck } from "@/lib/server/gauges/commands";
import { keyStudyReading, planStudy } from "@/lib/server/gauges/studies";
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

const lines = z.string().transform((text) =>
  text
    .split(/\r?\n/)
    .map((line) => line.trim())
    .filter((line) => line !== ""),
);
const planForm = z
  .object({
    gauge: z.string(),
    title: z.string(),
    unit: z.string(),
    tolerance: optionalNumberSchema,
    parts: lines,
    inspectors: lines,
    trials: typedNumberSchema,
  })
  .transform((form): unknown => ({ ...form, id: uuidV7(Date.now()) }))
  .pipe(planStudySchema);

/** Plans a study and opens it. */
export const planStudyAction = defineAction(planForm, async (viewer, input) => {
  const { id } = await planStudy(viewer, input, { seed: randomInt(2 ** 31 - 1) });
  redirect(`/gauges/studies/${id}`);
});

const keyForm = z
  .object({ id: z.string(), study: z.string(), place: typedNumberSchema, value: typedNumberSchema })
  .pipe(keyStudyReadingSchema);

/** Keeps one reading of a study and asks for the next. */
export const keyStudyReadingAction = defineAction(keyForm, async (viewer, input) => {
  await keyStudyReading(viewer, input);
  refresh();
  return null;
});
