import { z } from "zod";
import { CHARACTERISTIC_NAMES } from "../core/metrology/shell-drawing";
import { parseReadingName } from "../core/metrology/reading-name";

const key = z
  .string()
  .trim()
  .min(1)
  .max(64)
  .regex(/^[A-Za-z0-9][A-Za-z0-9._ -]*$/, "letters, digits, space, point, hyphen and underline");
const name = z.string().trim().min(1).max(200);
const length = z.number().positive().max(1000);

const materialSchema = z.strictObject({
  name,
  youngsModulusGpa: z.number().positive().max(2000),
  poissonsRatio: z.number().min(0).lt(0.5),
  expansionPerMegakelvin: z.number().min(-10).max(200),
});

const deviationsSchema = z
  .tuple([z.number(), z.number()])
  .refine(([upper, lower]) => upper >= lower, "the upper deviation comes first");

export const characteristicSchema = z
  .strictObject({
    name: z.enum(CHARACTERISTIC_NAMES),
    lower: z.number().nullable(),
    upper: z.number().nullable(),
    target: z.number().nullable(),
    critical: z.boolean(),
    uncertainty: z.number().min(0),
  })
  .refine(({ lower, upper }) => lower !== null || upper !== null, "needs a lower or an upper limit")
  .refine(
    ({ lower, upper }) => lower === null || upper === null || lower < upper,
    "the lower limit must be below the upper",
  )
  .refine(
    ({ lower, upper, target }) =>
      target === null || ((lower === null || target >= lower) && (upper === null || target <= upper)),
    "the target must lie inside the limits",
  );

/** A shell drawing as lib/core/metrology/shell-drawing.ts describes it; lengths mm. */
export const shellDrawingSchema = z
  .strictObject({
    key,
    title: name,
    revision: z.string().trim().min(1).max(16),
    invented: z.boolean(),
    nominalBoreMm: length,
    seatDepthMm: length,
    faceOutsideDiameterMm: length,
    faceSweepDiameterMm: length,
    faceLimitDiameterMm: length,
    widthMm: length,
    shellOutsideDiameterMm: length,
    shellMaterial: materialSchema,
    fullPlanDepthsMm: z.array(z.number().min(0)).min(1).max(10),
    decisionRule: z.enum(["guard-u", "guard-1.65uc", "simple"]),
    nonconformingFractionLimit: z.number().positive().lt(1),
    characteristics: z.array(characteristicSchema).min(1),
    carries: z.strictObject({
      bearing: z.strictObject({
        designation: name,
        boreMm: length,
        outsideDiameterMm: length,
        widthMm: length,
        ballDiameterMm: length,
        clearanceClass: z.string().trim().min(1).max(16),
        clearanceUm: z
          .tuple([z.number(), z.number()])
          .refine(([low, high]) => low <= high, "the smaller clearance comes first"),
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

export const readingNameSchema = z.string().superRefine((text, context) => {
  const parsed = parseReadingName(text);
  if (!parsed.ok) context.addIssue({ code: "custom", message: parsed.reason });
});

/** Which frames of a batch a plan asks for. */
export const plannedFramesSchema = z.discriminatedUnion("kind", [
  z.strictObject({ kind: z.literal("all") }),
  z.strictObject({ kind: z.literal("every"), n: z.int().min(2).max(1000), firstOff: z.boolean() }),
  z.strictObject({ kind: z.literal("drawn"), size: z.int().min(1).max(10_000) }),
]);

export const createLineSchema = z.strictObject({ key, name });
export const createStationSchema = z.strictObject({
  key,
  name,
  line: key,
  operation: key,
  viewingSide: z.enum(["ds", "nds"]),
});
export const createSupplierSchema = z.strictObject({ key, name });
export const createFrameModelSchema = z.strictObject({ key, name, drawing: key });
export const draftDrawingSchema = z.strictObject({ drawing: shellDrawingSchema });
export const releaseRevisionSchema = z.strictObject({ id: z.uuid() });
export const draftPlanSchema = z.strictObject({
  key,
  title: name,
  revision: z.string().trim().min(1).max(16),
  drawingRevisionId: z.uuid(),
  readingNames: z
    .array(readingNameSchema)
    .min(1)
    .max(500)
    .refine((names) => new Set(names).size === names.length, "each reading stands once"),
  frames: plannedFramesSchema,
  settings: z.record(z.string(), z.unknown()).optional(),
});
export const createBatchSchema = z.strictObject({
  key,
  supplier: key,
  model: key,
  line: key,
  plan: key,
  serials: z
    .array(z.strictObject({ serial: z.string().trim().min(1).max(64), mould: z.string().trim().max(64).optional() }))
    .min(1)
    .max(10_000),
});
export const createGaugeSchema = z.strictObject({
  key,
  name,
  kind: z.enum(["bore", "sweep", "face", "width", "plug", "bar"]),
  principle: z.enum(["two-point", "three-point", "indicator", "caliper", "plain plug", "bar"]),
  resolutionUm: z.number().positive().max(1000),
  station: key.optional(),
  calibratedAt: z.iso.datetime({ offset: true }).optional(),
  calibratedUntil: z.iso.datetime({ offset: true }).optional(),
});

export type CreateLine = z.infer<typeof createLineSchema>;
export type CreateStation = z.infer<typeof createStationSchema>;
export type CreateSupplier = z.infer<typeof createSupplierSchema>;
export type CreateFrameModel = z.infer<typeof createFrameModelSchema>;
export type DraftDrawing = z.infer<typeof draftDrawingSchema>;
export type DraftPlan = z.infer<typeof draftPlanSchema>;
export type CreateBatch = z.infer<typeof createBatchSchema>;
export type CreateGauge = z.infer<typeof createGaugeSchema>;
