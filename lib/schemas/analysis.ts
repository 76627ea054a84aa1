import { z } from "zod";
import {
  analysisChartSchema,
  distributionModelSchema,
  MOST_VALUES,
  number,
  rulesSchema,
  subgroupsSchema,
  valuesSchema,
} from "./analysis-chart";

const positive = number.positive();
const shift = number.optional();
const confidence = number.optional();
/** Offsets: towards 12 and towards 3 o'clock. */
const offsets = z
  .array(z.tuple([number, number]))
  .min(1)
  .max(MOST_VALUES);
/** Whether the stream is stable is the sender's to say: run the rules first. */
const stability = z.strictObject({
  verdict: z.enum(["stable", "unstable", "not-judged"]),
  because: z.string().max(200).optional(),
});

/**
 * Values times resamples of a bootstrap, and values alone: what one request may ask of a process that also measures frames.
 */
export const MOST_RESAMPLED = 500_000;
const MOST_CAPABILITY_VALUES = 2000;
const MOST_OFFSETS_RESAMPLED = 10_000;
/** Each tool gets a regression of its own, with intervals by search. */
const MOST_TOOL_CHANGES = 1000;

/** Frames that limits were estimated from: gives the range of the run length beside the nominal one. */
const runLengthBaseline = z.strictObject({
  points: z.int().min(5).max(1_000_000),
  sigmaFrom: z.enum(["mean-moving-range", "standard-deviation", "subgroups"]).optional(),
  subgroupSize: z.int().min(2).max(100).optional(),
});

const runLengthSchema = z.discriminatedUnion("of", [
  z.strictObject({
    of: z.literal("rules"),
    rules: rulesSchema,
    shift,
    limit: positive.optional(),
    baseline: runLengthBaseline.optional(),
  }),
  z.strictObject({
    of: z.literal("ewma"),
    lambda: number,
    width: number,
    limits: z.enum(["exact", "asymptotic"]).optional(),
    sides: z.enum(["both", "upper", "lower"]).optional(),
    shift,
    baseline: runLengthBaseline.optional(),
  }),
  z.strictObject({
    of: z.literal("cusum"),
    k: number,
    h: number,
    headStart: number.optional(),
    sides: z.enum(["both", "one"]).optional(),
    shift,
    /** For both sides only. */
    baseline: runLengthBaseline.optional(),
  }),
  z.strictObject({ of: z.literal("mewma"), dimensions: z.int(), lambda: number, limit: positive, shift }),
  z.strictObject({
    of: z.literal("form-ewma"),
    model: distributionModelSchema,
    lambda: number,
    start: number,
    limit: number,
    /** The values are so many times those of the model. */
    factor: positive.optional(),
  }),
]);

const fittedFamily = z.enum(["normal", "folded-normal", "lognormal", "weibull", "rayleigh", "rice", "johnson"]);

const capabilitySchema = z
  .strictObject({
    kind: z.literal("capability"),
    values: z.array(number).min(1).max(MOST_CAPABILITY_VALUES),
    limits: z.strictObject({
      lower: number.nullable(),
      upper: number.nullable(),
      target: number.optional(),
    }),
    stability,
    characteristic: z.enum(["size", "zero-bound"]).default("size"),
    family: fittedFamily.optional(),
    confidence,
    tail: z.enum(["exact", "rounded"]).optional(),
    provenIndex: positive.optional(),
    seed: z.int().min(0).optional(),
    /** 999 by default, fewer for more than 500 values. */
    resamples: z.int().min(100).max(2000).optional(),
    /** Of the gauge, unit of the values; found from the values otherwise. */
    resolution: positive.optional(),
  })
  .refine(({ values, resamples = 0 }) => values.length * resamples <= MOST_RESAMPLED, {
    path: ["resamples"],
    error: `Values times resamples must be at most ${MOST_RESAMPLED}: ask for fewer resamples`,
  });

/** A signal and a frame of `findings`: positions count the frames of the stretch in the order of measuring. */
const position = z.int().min(0).max(10_000_000);
const factors = z
  .record(z.string().min(1).max(64), z.string().max(64))
  .refine((record) => Object.keys(record).length <= 12, { error: "At most 12 factors" });
const findingsSchema = z.strictObject({
  kind: z.literal("findings"),
  signals: z
    .array(
      z.strictObject({
        stream: z.string().min(1).max(100),
        position,
        from: position,
        side: z.enum(["upper", "lower"]).nullable().default(null),
        points: z.array(position).min(1).max(31).optional(),
        change: z.strictObject({ first: position, earliest: position, latest: position }).nullable().optional(),
      }),
    )
    .max(300),
  frames: z.array(z.strictObject({ position, factors })).max(3000),
  gap: number.optional(),
  lift: number.optional(),
  alpha: number.optional(),
});

/**
 * Body of POST /api/v1/analysis: numbers in, statistics out, by the same core as everything else. Nothing is stored.
 *
 * - chart: a chart with limits, signals and estimates (`chart.chart` says which; the options are those of the core function)
 * - run-rules: signals on given lines; rules by name (zone, eight, limit) or one by one
 * - run-length: of rules, an EWMA, a CUSUM or a multivariate EWMA; with `baseline` also its range for estimated limits
 * - chart-design: limits, EWMA and CUSUM for an in-control run length and a shift that matters
 * - capability, offset-capability: indices or the fraction outside a circle, with intervals, or a reason
 * - change-point, autocorrelation, anova, variance-components: of the values sent
 * - target-plot, adjustment: of offsets towards 12 and 3 o'clock
 * - tool-life: frames left until a limit; findings: signals of several streams gathered by cause
 *
 * The answer is `{ coreVersion, kind, result }`. Where the numbers give no answer, `result` is `{ ok: false, reason }` with
 * status 200; wrong input is a problem with status 400. NaN and Infinity are no JSON and never come out.
 */
export const analysisRequestSchema = z.discriminatedUnion("kind", [
  z.strictObject({ kind: z.literal("chart"), chart: analysisChartSchema }),
  z.strictObject({
    kind: z.literal("run-rules"),
    values: valuesSchema,
    centre: number,
    sigma: positive.nullable().default(null),
    lower: number.nullable().optional(),
    upper: number.nullable().optional(),
    rules: rulesSchema.default("zone"),
  }),
  z.strictObject({ kind: z.literal("run-length"), design: runLengthSchema }),
  z.strictObject({ kind: z.literal("chart-design"), inControl: number, shift: number }),
  capabilitySchema,
  z.strictObject({
    kind: z.literal("offset-capability"),
    offsets: z
      .array(z.tuple([number, number]))
      .min(1)
      .max(MOST_OFFSETS_RESAMPLED),
    largestOffset: positive.nullable(),
    stability,
    confidence,
    seed: z.int().min(0).optional(),
  }),
  z.strictObject({
    kind: z.literal("normality"),
    values: z.array(number).min(1).max(MOST_VALUES),
    resolution: positive.optional(),
  }),
  z.strictObject({
    kind: z.literal("distribution"),
    values: z.array(number).min(1).max(MOST_CAPABILITY_VALUES),
    characteristic: z.enum(["size", "zero-bound"]).default("size"),
    families: z.array(fittedFamily).min(1).max(7).optional(),
    seed: z.int().min(0).optional(),
    resolution: positive.optional(),
  }),
  z.strictObject({ kind: z.literal("chart-constants"), n: z.int().min(2).max(100) }),
  z.strictObject({ kind: z.literal("change-point"), values: valuesSchema, confidence }),
  z.strictObject({ kind: z.literal("autocorrelation"), values: valuesSchema, confidence }),
  z.strictObject({ kind: z.literal("anova"), groups: subgroupsSchema }),
  z.strictObject({
    kind: z.literal("variance-components"),
    values: z
      .array(z.strictObject({ value: number, levels: z.record(z.string().max(64), z.string().max(64)) }))
      .min(1)
      .max(MOST_VALUES),
    factors: z.array(z.string().min(1).max(64)).min(1).max(8),
  }),
  z.strictObject({ kind: z.literal("target-plot"), offsets, confidence }),
  z.strictObject({
    kind: z.literal("adjustment"),
    offsets,
    zoneRadius: positive,
    deadBand: number.min(0).optional(),
    confidence,
    settle: z.int().min(0).optional(),
  }),
  z.strictObject({
    kind: z.literal("tool-life"),
    values: valuesSchema,
    toolChanges: z.array(z.int().min(0)).max(MOST_TOOL_CHANGES).default([]),
    limits: z.strictObject({ lower: number.nullable(), upper: number.nullable() }),
    frameCounts: z.array(number).max(MOST_VALUES).optional(),
    confidence,
    excluded: z.array(z.int().min(0)).max(MOST_VALUES).optional(),
  }),
  findingsSchema,
]);

export type AnalysisRequest = z.output<typeof analysisRequestSchema>;
