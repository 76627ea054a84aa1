import { z } from "zod";
import { number } from "./analysis-chart";
import { uuidSchema } from "./uuid";

/** Readings or decisions of one request: the computing thread answers within seconds. */
export const MOST_STUDY_READINGS = 20_000;

/** A part, inspector or trial: a name or a number. */
const label = z.union([z.string().trim().min(1).max(64), number]).transform(String);
/** What was decided: words, a number, or yes and no; capitals do not count. */
const decision = z
  .union([z.string().trim().min(1).max(64), number, z.boolean()])
  .transform((value) => String(value).toLowerCase());

const place = { part: label, inspector: label, trial: label };
type Placed = { readonly part: string; readonly inspector: string; readonly trial: string };

/** Two readings of one part, inspector and trial: which of them counts is not ours to choose. */
function refuseTwice(entries: readonly Placed[], context: z.RefinementCtx): void {
  const first = new Map<string, number>();
  entries.forEach(({ part, inspector, trial }, index) => {
    const key = JSON.stringify([part, inspector, trial]);
    const before = first.get(key);
    if (before === undefined) first.set(key, index);
    else
      context.addIssue({
        code: "custom",
        path: [index],
        message: `is there twice: part ${part}, inspector ${inspector}, trial ${trial} is also entry ${before}`,
      });
  });
}

const MOST_CATEGORIES = 20;
/** Each pair of them is compared. */
const MOST_DECIDERS = 100;
type Decided = { readonly part: string; readonly decision: string; readonly reference: string | null };

/** A part is one thing only; and more categories than these are no decisions. */
function refuseMixed(entries: readonly Decided[], context: z.RefinementCtx): void {
  const references = new Map<string, string>();
  const categories = new Set<string>();
  entries.forEach(({ part, decision: called, reference }, index) => {
    categories.add(called);
    if (reference === null) return;
    categories.add(reference);
    const known = references.get(part);
    if (known === undefined) references.set(part, reference);
    else if (known !== reference)
      context.addIssue({
        code: "custom",
        path: [index, "reference"],
        message: `says ${reference}, where part ${part} was ${known} before: a part has one reference`,
      });
  });
  if (categories.size > MOST_CATEGORIES)
    context.addIssue({ code: "custom", path: [], message: `may have at most ${MOST_CATEGORIES} different decisions` });
}

function refuseManyDeciders(entries: readonly Placed[], context: z.RefinementCtx): void {
  if (new Set(entries.map(({ inspector }) => inspector)).size > MOST_DECIDERS)
    context.addIssue({
      code: "custom",
      path: [],
      message: `may have at most ${MOST_DECIDERS} inspectors: each pair of them is compared`,
    });
}

const tolerance = number.positive().nullable().optional();
const confidence = z.number().min(0.5).max(0.9999).optional();
const readings = z
  .array(z.strictObject({ ...place, value: number }))
  .min(1)
  .max(MOST_STUDY_READINGS)
  .superRefine(refuseTwice);
const referenced = z
  .array(z.strictObject({ reference: number, value: number }))
  .min(1)
  .max(MOST_STUDY_READINGS);

/**
 * Body of POST /api/v1/gauge-studies/analysis: readings of a study in, what the gauge is good for out. Nothing is stored.
 *
 * `tolerance` is the width of the tolerance in the unit of the readings; without it shares of it are null. `poolingAlpha`: the
 * interaction is pooled where its p value is larger, 0.25 if left out.
 */
export const gaugeStudyRequestSchema = z.discriminatedUnion("method", [
  z.strictObject({
    method: z.literal("anova"),
    tolerance,
    confidence,
    poolingAlpha: z.number().min(0).max(1).optional(),
    readings,
  }),
  z.strictObject({ method: z.literal("average-and-range"), tolerance, readings }),
  z.strictObject({ method: z.literal("bias"), tolerance, confidence, readings: referenced }),
  z.strictObject({
    method: z.literal("linearity"),
    tolerance,
    confidence,
    /** Six standard deviations of the process, unit of the readings: what linearity is compared with beside the tolerance. */
    processVariation: number.positive().optional(),
    readings: referenced,
  }),
  z.strictObject({
    method: z.literal("agreement"),
    /** Taken and not used: decisions have no size. */
    tolerance,
    confidence,
    decisions: z
      .array(z.strictObject({ ...place, decision, reference: decision.nullable().default(null) }))
      .min(1)
      .max(MOST_STUDY_READINGS)
      .superRefine(refuseTwice)
      .superRefine(refuseMixed)
      .superRefine(refuseManyDeciders),
  }),
]);

export type GaugeStudyRequest = z.output<typeof gaugeStudyRequestSchema>;

/** Readings of a study that people key. */
const MOST_KEYED = 2000;
const names = (what: string, most: number) =>
  z
    .array(z.string().trim().min(1).max(64, "must have at most 64 characters"))
    .min(2, `must be at least two ${what}`)
    .max(most, `must be at most ${most} ${what}`)
    .refine((list) => new Set(list).size === list.length, `must be different ${what}`);

/** The plan of a study: every inspector measures every part so often. */
export const planStudySchema = z
  .strictObject({
    id: uuidSchema,
    gauge: z.string().trim().min(1).max(64),
    title: z.string().trim().min(1, "must not be empty").max(200, "must have at most 200 characters"),
    unit: z.enum(["mm", "µm"], "choose a unit"),
    tolerance: number.positive("must be over zero").nullable(),
    parts: names("parts", 100),
    inspectors: names("inspectors", 20),
    trials: z.int().min(2, "must be at least 2: nothing repeats else").max(20, "must be at most 20"),
  })
  .refine(({ parts, inspectors, trials }) => parts.length * inspectors.length * trials <= MOST_KEYED, {
    path: ["parts"],
    error: `makes more than ${MOST_KEYED} readings: take fewer parts, inspectors or trials`,
  });
export type PlanStudy = z.output<typeof planStudySchema>;

/** One reading of a study, as it was keyed for the place that was asked for. */
export const keyStudyReadingSchema = z.strictObject({
  id: uuidSchema,
  study: uuidSchema,
  place: z.int().min(0).max(MOST_KEYED),
  value: z.number().min(-1e6).max(1e6),
});
export type KeyStudyReading = z.output<typeof keyStudyReadingSchema>;
