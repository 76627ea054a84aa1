import { z } from "zod";
import { INSPECTION_LEVELS, PREFERRED_AQLS, SEVERITIES } from "../core/sampling/attribute-tables";
import { hasVariablesLevel, VARIABLES_AQLS, VARIABLES_METHODS } from "../core/sampling/variables-plan";

const MOST_FRACTIONS = 500;
const MOST_LOTS = 1000;
/** Larger than any lot of the tables' last row needs, and small enough to count exactly. */
const LARGEST_LOT = 1e9;

const lot = z
  .int()
  .min(2, "must be 2 or more: of a lot of one nothing can be drawn, measure it")
  .max(LARGEST_LOT, "must be at most 1,000,000,000");

/** Fractions nonconforming of the lot; without them the answer chooses some. */
const fractions = z
  .array(z.number().min(0, "must be from 0 to 1").max(1, "must be from 0 to 1"))
  .max(MOST_FRACTIONS, `must have at most ${MOST_FRACTIONS} fractions`)
  .optional();

/** What is wrong with an AQL in words with its neighbours; null where it is one of the list. */
function aqlProblem(aql: number, preferred: readonly number[]): string | null {
  if (preferred.includes(aql)) return null;
  const below = preferred.filter((value) => value < aql).at(-1);
  const above = preferred.find((value) => value > aql);
  if (below === undefined || above === undefined)
    return `must be a preferred AQL from ${preferred[0]} to ${preferred.at(-1)} percent`;
  return `must be a preferred AQL: ${aql} lies between ${below} and ${above}, take one of them`;
}

export const preferredAql = (preferred: readonly number[]) =>
  z.number().superRefine((aql, context) => {
    const message = aqlProblem(aql, preferred);
    if (message !== null) context.addIssue({ code: "custom", message });
  });

const scheme = {
  lot,
  level: z.enum(INSPECTION_LEVELS).default("II"),
  severity: z.enum(SEVERITIES).default("normal"),
  p: fractions,
};

/** Single sampling by attributes. A method is of no matter to it. */
const attributesSchema = z.strictObject({
  scheme: z.literal("iso-2859-1"),
  ...scheme,
  aql: preferredAql(PREFERRED_AQLS),
  method: z.enum(VARIABLES_METHODS).optional(),
  /** Lots on original inspection, oldest first, from normal inspection on: the switching rules then choose the severity. */
  history: z
    .array(
      z.strictObject({
        lot,
        nonconforming: z.int().min(0).max(LARGEST_LOT),
        /** Production ran at a steady rate. */
        steady: z.boolean().default(true),
      }),
    )
    .max(MOST_LOTS, `must have at most ${MOST_LOTS} lots`)
    .optional(),
  /** Whoever is responsible wants reduced inspection once the score allows it. */
  reducedWanted: z.boolean().default(false),
});

/** Single sampling by variables, one limit. */
const variablesSchema = z
  .strictObject({
    scheme: z.literal("iso-3951-1"),
    ...scheme,
    aql: preferredAql(VARIABLES_AQLS),
    method: z.enum(VARIABLES_METHODS).default("s"),
  })
  .refine(({ method, severity, level }) => hasVariablesLevel(method, severity, level), {
    path: ["level"],
    message: "must be S-3, S-4, I, II or III: the table of the s method has no other",
  });

/** The smallest sample that finds a lot at the tolerance with 90 %, or with 1 - risk. */
const zeroAcceptanceSchema = z.strictObject({
  scheme: z.literal("zero-acceptance"),
  lot,
  /** Lot tolerance in percent. */
  index: z.number().gt(0, "must be over 0 percent").max(100, "must be at most 100 percent"),
  risk: z.number().gt(0, "must be over 0 and below 1").lt(1, "must be over 0 and below 1").default(0.1),
  p: fractions,
});

export const SAMPLING_SCHEMES = ["iso-2859-1", "iso-3951-1", "zero-acceptance"] as const;

export const samplingRequestSchema = z.discriminatedUnion(
  "scheme",
  [attributesSchema, variablesSchema, zeroAcceptanceSchema],
  {
    error: ({ code }) => (code === "invalid_union" ? `must be one of: ${SAMPLING_SCHEMES.join(", ")}` : undefined),
  },
);
export type SamplingRequest = z.output<typeof samplingRequestSchema>;
