import { z } from "zod";

const MOST_VALUES = 100_000;
const values = z.array(z.number()).min(1).max(MOST_VALUES);
const subgroups = z.array(z.array(z.number()).min(1).max(1000)).min(1).max(20_000);
const positive = z.number().positive();
const excluded = z.array(z.int().min(0)).max(MOST_VALUES).optional();
const sigmas = positive.optional();
const constants = z.enum(["exact", "printed"]).optional();
const sizes = z.union([positive, z.array(positive).max(MOST_VALUES)]);

const id = z.string().trim().min(1).max(40);
/** One run rule, as lib/core/control/run-rules.ts describes it. */
export const runRuleSchema = z.discriminatedUnion("test", [
  z.strictObject({ id, test: z.literal("beyond-limit"), sigmas: z.number().min(0).optional() }),
  z.strictObject({ id, test: z.literal("same-side"), length: z.int() }),
  z.strictObject({ id, test: z.literal("monotone"), length: z.int() }),
  z.strictObject({ id, test: z.literal("alternating"), length: z.int() }),
  z.strictObject({ id, test: z.literal("k-of-m"), k: z.int(), m: z.int(), sigmas: z.number().min(0) }),
  z.strictObject({ id, test: z.literal("within"), length: z.int(), sigmas: z.number().min(0) }),
  z.strictObject({ id, test: z.literal("outside"), length: z.int(), sigmas: z.number().min(0) }),
]);

/** A set of run rules by name, or one by one. */
export const rulesSchema = z.union([z.enum(["zone", "eight", "limit"]), z.array(runRuleSchema).min(1).max(20)]);

const individualsSchema = z.strictObject({
  chart: z.literal("individuals"),
  values,
  mean: z.number().optional(),
  sigma: positive.optional(),
  sigmaMethod: z.enum(["mean-moving-range", "median-moving-range", "standard-deviation"]).optional(),
  span: z.int().min(2).max(100).optional(),
  sigmas,
  constants,
  excluded,
  rules: rulesSchema.optional(),
});
const meanSchema = z.strictObject({
  chart: z.literal("mean"),
  subgroups,
  spread: z.enum(["range", "standard-deviation"]).optional(),
  mean: z.number().optional(),
  sigma: positive.optional(),
  sigmas,
  constants,
  excluded,
  rules: rulesSchema.optional(),
});
const betweenWithinSchema = z.strictObject({
  chart: z.literal("between-within"),
  subgroups,
  constants,
  excluded,
  rules: rulesSchema.optional(),
});
const ewmaSchema = z.strictObject({
  chart: z.literal("ewma"),
  values,
  target: z.number().optional(),
  sigma: positive.optional(),
  lambda: z.number().optional(),
  width: z.number().optional(),
  limits: z.enum(["exact", "asymptotic"]).optional(),
  sides: z.enum(["both", "upper", "lower"]).optional(),
  excluded,
});
const cusumSchema = z.strictObject({
  chart: z.literal("cusum"),
  values,
  target: z.number().optional(),
  sigma: positive.optional(),
  k: z.number().optional(),
  h: z.number().optional(),
  headStart: z.number().optional(),
  restart: z.boolean().optional(),
  excluded,
});
const countsSchema = z.strictObject({
  chart: z.enum(["p", "np", "c", "u", "p-prime"]),
  counts: z.array(z.number().min(0)).min(1).max(MOST_VALUES),
  sizes: sizes.optional(),
  centre: positive.optional(),
  sigmas,
  constants,
  excluded,
});
const vectorSchema = z.strictObject({
  chart: z.literal("t2"),
  vectors: z.array(z.array(z.number()).min(1).max(20)).min(1).max(20_000),
});

const runLengthSchema = z.discriminatedUnion("of", [
  z.strictObject({
    of: z.literal("rules"),
    rules: rulesSchema,
    shift: z.number().optional(),
    limit: positive.optional(),
  }),
  z.strictObject({
    of: z.literal("ewma"),
    lambda: z.number(),
    width: z.number(),
    limits: z.enum(["exact", "asymptotic"]).optional(),
    sides: z.enum(["both", "upper", "lower"]).optional(),
    shift: z.number().optional(),
  }),
  z.strictObject({
    of: z.literal("cusum"),
    k: z.number(),
    h: z.number(),
    headStart: z.number().optional(),
    sides: z.enum(["both", "one"]).optional(),
    shift: z.number().optional(),
  }),
]);

const capabilitySchema = z.strictObject({
  kind: z.literal("capability"),
  values,
  limits: z.strictObject({ lower: z.number().nullable(), upper: z.number().nullable(), target: z.number().optional() }),
  /** Whether the stream is stable is the sender's to say: run the rules first. */
  stability: z.strictObject({
    verdict: z.enum(["stable", "unstable", "not-judged"]),
    because: z.string().max(200).optional(),
  }),
  characteristic: z.enum(["size", "zero-bound"]).default("size"),
  confidence: z.number().optional(),
  tail: z.enum(["exact", "rounded"]).optional(),
  seed: z.int().min(0).optional(),
  resamples: z.int().min(100).max(2000).optional(),
});

/** Numbers in, statistics out: by the same core as everything else. Nothing is stored. */
export const analysisRequestSchema = z.discriminatedUnion("kind", [
  z.strictObject({
    kind: z.literal("chart"),
    chart: z.discriminatedUnion("chart", [
      individualsSchema,
      meanSchema,
      betweenWithinSchema,
      ewmaSchema,
      cusumSchema,
      countsSchema,
      vectorSchema,
    ]),
  }),
  z.strictObject({
    kind: z.literal("run-rules"),
    values,
    centre: z.number(),
    sigma: positive.nullable().default(null),
    lower: z.number().nullable().optional(),
    upper: z.number().nullable().optional(),
    rules: rulesSchema.default("zone"),
  }),
  z.strictObject({ kind: z.literal("run-length"), design: runLengthSchema }),
  capabilitySchema,
  z.strictObject({ kind: z.literal("change-point"), values, confidence: z.number().optional() }),
  z.strictObject({ kind: z.literal("anova"), groups: subgroups }),
  z.strictObject({
    kind: z.literal("variance-components"),
    values: z
      .array(z.strictObject({ value: z.number(), levels: z.record(z.string().max(64), z.string().max(64)) }))
      .min(1)
      .max(MOST_VALUES),
    factors: z.array(z.string().min(1).max(64)).min(1).max(8),
  }),
  z.strictObject({
    kind: z.literal("adjustment"),
    offsets: z
      .array(z.tuple([z.number(), z.number()]))
      .min(1)
      .max(MOST_VALUES),
    zoneRadius: positive,
    deadBand: z.number().min(0).optional(),
    confidence: z.number().optional(),
    settle: z.int().min(0).optional(),
  }),
  z.strictObject({
    kind: z.literal("tool-life"),
    values,
    toolChanges: z.array(z.int().min(0)).max(10_000).default([]),
    limits: z.strictObject({ lower: z.number().nullable(), upper: z.number().nullable() }),
  }),
]);

export type AnalysisRequest = z.output<typeof analysisRequestSchema>;
export type AnalysisRules = z.output<typeof rulesSchema>;
