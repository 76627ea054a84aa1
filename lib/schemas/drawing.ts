import { z } from "zod";
import { CHARACTERISTIC_NAMES } from "../core/metrology/shell-drawing";
import { key, name } from "./keyed-name";
import { uuidSchema } from "./uuid";

export const length = z.number().positive("must be over zero").max(1000, "must be at most 1000");

export const revision = z.string().trim().min(1, "must not be empty").max(16, "must have at most 16 characters");

export const materialSchema = z.strictObject({
  name,
  youngsModulusGpa: z.number().positive().max(2000),
  poissonsRatio: z.number().min(0).lt(0.5),
  expansionPerMegakelvin: z.number().min(-10).max(200),
});

const deviationsSchema = z
  .tuple([z.number(), z.number()])
  .refine(([upper, lower]) => upper >= lower, { path: [1], message: "must not be above the upper deviation" });

export const characteristicSchema = z
  .strictObject({
    name: z.enum(CHARACTERISTIC_NAMES),
    lower: z.number().nullable(),
    upper: z.number().nullable(),
    target: z.number().nullable(),
    critical: z.boolean(),
    uncertainty: z.number().min(0, "must not be below zero"),
  })
  .refine(({ lower, upper }) => lower !== null || upper !== null, {
    path: ["upper"],
    message: "needs a lower or an upper limit",
  })
  .refine(({ lower, upper }) => lower === null || upper === null || lower < upper, {
    path: ["lower"],
    message: "the lower limit must be below the upper",
  })
  .refine(
    ({ lower, upper, target }) =>
      target === null || ((lower === null || target >= lower) && (upper === null || target <= upper)),
    { path: ["target"], message: "the target must lie inside the limits" },
  );

/** A ring that fits lies this near to its seat, and a limit this near to its nominal, mm: further away is a slip of the key. */
const MOST_FIT_MM = 0.5;

/** Rings that are pressed together have one radius to this share of it: what the press fit takes (lib/core/fit/press-fit.ts). */
const MOST_FIT_SHARE = 0.01;

const MOST_LIMIT_MM = 2;

/** A shell drawing as lib/core/metrology/shell-drawing.ts describes it; lengths mm. */
export const shellDrawingSchema = z
  .strictObject({
    key,
    title: name,
    revision,
    invented: z.boolean(),
    nominalBoreMm: length,
    seatDepthMm: length,
    faceOutsideDiameterMm: length,
    faceSweepDiameterMm: length,
    faceLimitDiameterMm: length,
    widthMm: length,
    shellOutsideDiameterMm: length,
    shellMaterial: materialSchema,
    fullPlanDepthsMm: z
      .array(z.number().min(0, "must not be below zero"))
      .min(1, "must name at least one depth")
      .max(10, "must name at most ten depths")
      .refine((depths) => new Set(depths).size === depths.length, "each depth stands once"),
    decisionRule: z.enum(["guard-u", "guard-1.65uc", "simple"]),
    nonconformingFractionLimit: z.number().positive("must be over zero").lt(1, "must be under 100 %"),
    characteristics: z.array(characteristicSchema).min(1, "must limit at least one characteristic"),
    carries: z.strictObject({
      bearing: z.strictObject({
        designation: name,
        boreMm: length,
        outsideDiameterMm: length,
        widthMm: length,
        ballDiameterMm: length,
        clearanceClass: z.string().trim().min(1, "must not be empty").max(16, "must have at most 16 characters"),
        clearanceUm: z
          .tuple([z.number(), z.number()])
          .refine(([low, high]) => low <= high, { path: [1], message: "must not be below the least clearance" }),
        outsideDeviationUm: deviationsSchema,
      }),
      cup: z
        .strictObject({
          outsideDiameterMm: length,
          outsideDeviationUm: deviationsSchema,
          wallMm: length,
          material: materialSchema,
        })
        .nullable(),
    }),
  })
  .refine(({ widthMm, seatDepthMm }) => 2 * seatDepthMm < widthMm, {
    path: ["seatDepthMm"],
    message: "two seats must fit into the width",
  })
  .refine(({ shellOutsideDiameterMm, nominalBoreMm }) => shellOutsideDiameterMm > nominalBoreMm, {
    path: ["shellOutsideDiameterMm"],
    message: "must be larger than the bore",
  })
  .refine(({ faceSweepDiameterMm, faceOutsideDiameterMm }) => faceSweepDiameterMm <= faceOutsideDiameterMm, {
    path: ["faceSweepDiameterMm"],
    message: "must lie on the face, inside its outside diameter",
  })
  .refine(({ faceLimitDiameterMm, faceOutsideDiameterMm }) => faceLimitDiameterMm <= faceOutsideDiameterMm, {
    path: ["faceLimitDiameterMm"],
    message: "must lie on the face, inside its outside diameter",
  })
  .superRefine(({ carries: { bearing, cup }, nominalBoreMm }, context) => {
    const refuse = (path: string[], message: string) =>
      context.addIssue({ code: "custom", path: ["carries", ...path], message });
    if (bearing.boreMm >= bearing.outsideDiameterMm) refuse(["bearing", "boreMm"], "must be smaller than its outside");
    if (cup === null) {
      if (Math.abs(bearing.outsideDiameterMm - nominalBoreMm) > MOST_FIT_MM)
        refuse(["bearing", "outsideDiameterMm"], "must fit the bore, or a cup must stand between");
      return;
    }
    if (Math.abs(cup.outsideDiameterMm - nominalBoreMm) > MOST_FIT_MM)
      refuse(["cup", "outsideDiameterMm"], "must fit the bore");
    const mostInCup = Math.min(MOST_FIT_MM, MOST_FIT_SHARE * bearing.outsideDiameterMm);
    if (Math.abs(cup.outsideDiameterMm - 2 * cup.wallMm - bearing.outsideDiameterMm) > mostInCup)
      refuse(["cup", "wallMm"], "must leave the bearing's outside diameter between the walls");
  })
  .superRefine(({ characteristics, nominalBoreMm, widthMm }, context) => {
    const nominals = { bore: nominalBoreMm, width: widthMm };
    characteristics.forEach(({ name: of, lower, upper }, place) => {
      if (of !== "bore" && of !== "width") {
        if (upper === null || upper <= 0)
          context.addIssue({ code: "custom", path: ["characteristics", place, "upper"], message: "must be over zero" });
        return;
      }
      for (const [end, limit] of [["lower", lower] as const, ["upper", upper] as const])
        if (limit === null || Math.abs(limit - nominals[of]) > MOST_LIMIT_MM)
          context.addIssue({
            code: "custom",
            path: ["characteristics", place, end],
            message: `must be given, within ${MOST_LIMIT_MM} mm of ${nominals[of]}`,
          });
    });
  })
  .refine(({ faceOutsideDiameterMm, nominalBoreMm }) => faceOutsideDiameterMm > nominalBoreMm, {
    path: ["faceOutsideDiameterMm"],
    message: "must be larger than the bore",
  })
  .refine(({ fullPlanDepthsMm, seatDepthMm }) => fullPlanDepthsMm.every((depth) => depth <= seatDepthMm), {
    path: ["fullPlanDepthsMm"],
    message: "every measured section must lie inside the seat",
  })
  .refine(({ characteristics }) => new Set(characteristics.map((one) => one.name)).size === characteristics.length, {
    path: ["characteristics"],
    message: "each characteristic stands once",
  });

export const draftDrawingSchema = z.strictObject({
  drawing: shellDrawingSchema,
  /** True where the drawing must not be there yet: a taken key is then a conflict, no new revision. */
  isNew: z.boolean().optional(),
});

/** A draft changed: `seen` is the fingerprint of the draft as it was read, so that nobody writes over another's change. */
export const changeDrawingDraftSchema = z.strictObject({
  id: uuidSchema,
  seen: z.string().regex(/^[0-9a-f]{32}$/),
  drawing: shellDrawingSchema,
});

export const releaseRevisionSchema = z.strictObject({ id: uuidSchema });

export type ChangeDrawingDraft = z.infer<typeof changeDrawingDraftSchema>;

export type DraftDrawing = z.infer<typeof draftDrawingSchema>;
