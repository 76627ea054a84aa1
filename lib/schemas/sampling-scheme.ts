import { z } from "zod";
import { INSPECTION_LEVELS, PREFERRED_AQLS } from "../core/sampling/attribute-tables";
import { hasVariablesLevel, VARIABLES_AQLS, VARIABLES_METHODS } from "../core/sampling/variables-plan";
import { key } from "./keyed-name";
import { preferredAql } from "./sampling";
import { uuidSchema } from "./uuid";

/** Above 10 an AQL counts nonconformities, of which a frame may have several: a frame is judged as a whole. ISO 2859-1:1999 clause 5.1. */
const ATTRIBUTE_AQLS = PREFERRED_AQLS.filter((aql) => aql <= 10);

const switching = {
  level: z.enum(INSPECTION_LEVELS),
  /** Reduced inspection is wanted once the score allows it, and production is steady. */
  reducedWanted: z.boolean().default(false),
};

const sigma = z.number().gt(0, "must be over 0 mm").max(1, "must be at most 1 mm").optional();

export const lotSchemeSchema = z.discriminatedUnion("kind", [
  z.strictObject({ kind: z.literal("all") }),
  z.strictObject({ kind: z.literal("iso-2859-1"), ...switching, aql: preferredAql(ATTRIBUTE_AQLS) }),
  z
    .strictObject({
      kind: z.literal("iso-3951-1"),
      ...switching,
      aql: preferredAql(VARIABLES_AQLS),
      method: z.enum(VARIABLES_METHODS),
      /** Known standard deviations, mm; the sigma method needs at least one. */
      sigmaMm: z.strictObject({ bore: sigma, width: sigma }).default({}),
    })
    .refine(({ method, level }) => hasVariablesLevel(method, "normal", level), {
      path: ["level"],
      message: "must be S-3, S-4, I, II or III: the table of the s method has no other",
    })
    .refine(({ method, sigmaMm }) => method === "s" || Object.values(sigmaMm).some((one) => one !== undefined), {
      path: ["sigmaMm"],
      message: "give the known standard deviation of the bore or of the width, or choose the s method",
    }),
  z.strictObject({
    kind: z.literal("zero-acceptance"),
    /** Lot tolerance in percent. */
    index: z.number().gt(0, "must be over 0 percent").max(100, "must be at most 100 percent"),
    risk: z.number().gt(0, "must be over 0 and below 1").lt(1, "must be over 0 and below 1").default(0.1),
  }),
]);
export type LotSchemeInput = z.input<typeof lotSchemeSchema>;

/** Sets how batches of a supplier and model are sampled from now on. The password signs. */
export const setSamplingSchema = z.strictObject({
  id: uuidSchema,
  supplier: key,
  model: key,
  /** Version that the signer saw; 0 where there was none. */
  version: z.int().min(0),
  scheme: lotSchemeSchema,
  grounds: z.string().trim().min(3, "give the reason, in a few words").max(2000),
  password: z.string().min(1).max(200),
});
export type SetSampling = z.infer<typeof setSamplingSchema>;
