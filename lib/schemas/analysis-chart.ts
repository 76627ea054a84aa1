import { z } from "zod";

export const MOST_VALUES = 100_000;
/** Values times the lengths of the patterns that rules look for: what the points of all signals can be at most. */
export const MOST_PATTERN_POINTS = 10_000_000;
/** Any number of a request: so far from the ends of double precision that squares and their sums stay finite. */
export const number = z.number().min(-1e100).max(1e100);
/** Values in the order of time. */
export const valuesSchema = z.array(number).min(1).max(MOST_VALUES);
export const subgroupsSchema = z.array(z.array(number).min(1).max(1000)).min(1).max(20_000);
/** Vectors in the order of time, one unit for all components. */
const vectors = z.array(z.array(number).min(1).max(20)).min(1).max(20_000);
const positive = number.positive();
const indices = z.array(z.int().min(0)).max(MOST_VALUES);
const excluded = indices.optional();
const sigmas = positive.optional();
const constants = z.enum(["exact", "printed"]).optional();
const sizes = z.union([positive, z.array(positive).max(MOST_VALUES)]);
const model = z.string().min(1).max(64);
const models = z.array(model).min(1).max(MOST_VALUES);
const alpha = number.optional();

const id = z.string().trim().min(1).max(40);
/** One run rule, as lib/core/control/rules/run-rules.ts describes it. */
export const runRuleSchema = z.discriminatedUnion("test", [
  z.strictObject({ id, test: z.literal("beyond-limit"), sigmas: number.min(0).optional() }),
  z.strictObject({ id, test: z.literal("same-side"), length: z.int() }),
  z.strictObject({ id, test: z.literal("monotone"), length: z.int() }),
  z.strictObject({ id, test: z.literal("alternating"), length: z.int() }),
  z.strictObject({ id, test: z.literal("k-of-m"), k: z.int(), m: z.int(), sigmas: number.min(0) }),
  z.strictObject({ id, test: z.literal("within"), length: z.int(), sigmas: number.min(0) }),
  z.strictObject({ id, test: z.literal("outside"), length: z.int(), sigmas: number.min(0) }),
]);

/** A set of run rules by name, or one by one. */
export const rulesSchema = z.union([z.enum(["zone", "eight", "limit"]), z.array(runRuleSchema).min(1).max(20)]);

const individualsSchema = z.strictObject({
  chart: z.literal("individuals"),
  values: valuesSchema,
  mean: number.optional(),
  sigma: positive.optional(),
  sigmaMethod: z.enum(["mean-moving-range", "median-moving-range", "standard-deviation"]).optional(),
  centreMethod: z.enum(["mean", "median"]).optional(),
  span: z.int().min(2).max(100).optional(),
  sigmas,
  constants,
  excluded,
  rules: rulesSchema.optional(),
});
const meanSchema = z.strictObject({
  chart: z.literal("mean"),
  subgroups: subgroupsSchema,
  spread: z.enum(["range", "standard-deviation"]).optional(),
  sigmaMethod: z.enum(["mean", "median", "pooled", "pooled-as-mean"]).optional(),
  mean: number.optional(),
  sigma: positive.optional(),
  sigmas,
  constants,
  excluded,
  rules: rulesSchema.optional(),
});
const betweenWithinSchema = z.strictObject({
  chart: z.literal("between-within"),
  subgroups: subgroupsSchema,
  spread: z.enum(["range", "standard-deviation"]).optional(),
  mean: number.optional(),
  sigmaOfMeans: positive.optional(),
  sigmaWithin: positive.optional(),
  sigmas,
  constants,
  excluded,
  rules: rulesSchema.optional(),
});
const ewmaSchema = z.strictObject({
  chart: z.literal("ewma"),
  values: valuesSchema,
  target: number.optional(),
  sigma: positive.optional(),
  sizes: z.array(positive).max(MOST_VALUES).optional(),
  lambda: number.optional(),
  width: number.optional(),
  start: number.optional(),
  limits: z.enum(["exact", "asymptotic"]).optional(),
  sides: z.enum(["both", "upper", "lower"]).optional(),
  excluded,
});
const cusumSchema = z.strictObject({
  chart: z.literal("cusum"),
  values: valuesSchema,
  target: number.optional(),
  sigma: positive.optional(),
  k: number.optional(),
  h: number.optional(),
  headStart: number.optional(),
  restart: z.boolean().optional(),
  excluded,
});
const countsSchema = z.strictObject({
  chart: z.enum(["p", "np", "c", "u", "p-prime"]),
  counts: z.array(number.min(0)).min(1).max(MOST_VALUES),
  sizes: sizes.optional(),
  centre: positive.optional(),
  sigmaZ: positive.optional(),
  sigmas,
  constants,
  excluded,
  rules: rulesSchema.optional(),
});
const trendedSchema = z.strictObject({
  chart: z.literal("trended"),
  values: valuesSchema,
  wear: z.array(number).max(MOST_VALUES).optional(),
  toolChanges: indices.optional(),
  slope: z.enum(["common", "own"]).optional(),
  sigmaMethod: z.enum(["residual", "mean-moving-range"]).optional(),
  given: z.strictObject({ slope: number, level: number, sigma: positive }).optional(),
  sigmas,
  constants,
  excluded,
  rules: rulesSchema.optional(),
});
const deviationSchema = z.strictObject({
  chart: z.literal("deviation-from-nominal"),
  values: valuesSchema,
  nominals: z.array(number).min(1).max(MOST_VALUES),
  mean: number.optional(),
  sigma: positive.optional(),
  sigmas,
  constants,
  excluded,
  rules: rulesSchema.optional(),
});
const standardisedSchema = z.strictObject({
  chart: z.literal("standardised"),
  values: valuesSchema,
  /** The model of each value. */
  models,
  known: z.record(model, z.strictObject({ mean: number, sigma: positive })).optional(),
  sigmas,
  constants,
  excluded,
  rules: rulesSchema.optional(),
});
/** A distribution with its parameters, as the answers of `capability` and `distribution` give it. */
export const distributionModelSchema = z.discriminatedUnion("family", [
  z.strictObject({ family: z.literal("normal"), mean: number, sd: positive }),
  z.strictObject({ family: z.literal("folded-normal"), mu: number, sigma: positive }),
  z.strictObject({ family: z.literal("lognormal"), logMean: number, logSd: positive }),
  z.strictObject({ family: z.literal("weibull"), shape: positive, scale: positive }),
  z.strictObject({ family: z.literal("rayleigh"), sigma: positive }),
  z.strictObject({ family: z.literal("rice"), offset: number.min(0), sigma: positive }),
  z.strictObject({ family: z.literal("gamma"), shape: positive, scale: positive }),
  z.strictObject({
    family: z.literal("johnson"),
    system: z.enum(["unbounded", "bounded", "lognormal"]),
    gamma: number,
    delta: positive,
    xi: number,
    lambda: positive,
  }),
]);
const quantileSchema = z.strictObject({
  chart: z.literal("quantile"),
  values: valuesSchema,
  /** Quantiles, or the distribution that they are taken from. */
  limits: z.union([z.strictObject({ lower: number, median: number, upper: number }), distributionModelSchema]),
  /** Probability beyond each limit of a distribution; 0.00135 (three sigma) by default. */
  tail: number.optional(),
  sides: z.enum(["both", "upper"]).optional(),
  excluded,
});
const formEwmaSchema = z.strictObject({
  chart: z.literal("form-ewma"),
  values: valuesSchema,
  /** The distribution fitted to the baseline. */
  model: distributionModelSchema,
  lambda: number.optional(),
  inControl: number.optional(),
  excluded,
});

/** What phase II limits of vectors rest on; count and degreesOfFreedom null: mean and covariance are known. */
const vectorBaseline = z.strictObject({
  mean: z.array(number).min(1).max(20),
  covariance: z.array(z.array(number).min(1).max(20)).min(1).max(20),
  count: positive.nullable(),
  degreesOfFreedom: positive.nullable(),
});
const t2Schema = z.strictObject({
  chart: z.literal("t2"),
  vectors,
  alpha,
  covarianceMethod: z.enum(["sample", "successive-differences"]).optional(),
  baseline: vectorBaseline.optional(),
  excluded,
});
const t2MeansSchema = z.strictObject({
  chart: z.literal("t2-means"),
  subgroups: z.array(vectors).min(1).max(5000),
  alpha,
  baseline: vectorBaseline.optional(),
  excluded,
});
const mewmaSchema = z.strictObject({
  chart: z.literal("mewma"),
  vectors,
  lambda: number.optional(),
  limit: positive.optional(),
  inControl: number.optional(),
  covariance: z.enum(["asymptotic", "exact"]).optional(),
  baseline: vectorBaseline.optional(),
  excluded,
});

/** One chart with its options, as the functions of lib/core/control name them. */
export const analysisChartSchema = z.discriminatedUnion("chart", [
  individualsSchema,
  meanSchema,
  betweenWithinSchema,
  ewmaSchema,
  cusumSchema,
  countsSchema,
  trendedSchema,
  deviationSchema,
  standardisedSchema,
  quantileSchema,
  formEwmaSchema,
  t2Schema,
  t2MeansSchema,
  mewmaSchema,
]);

export type AnalysisChart = z.output<typeof analysisChartSchema>;
export type AnalysisRules = z.output<typeof rulesSchema>;
