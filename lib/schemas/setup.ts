import { z } from "zod";
import { PRINCIPLES_OF } from "../core/metrology/gauge-range";
import { CHARACTERISTIC_NAMES } from "../core/metrology/shell-drawing";
import { parseReadingName } from "../core/metrology/reading-name";
import { timeZoneSchema } from "./time-zone";
import { uuidSchema } from "./uuid";

const key = z
  .string()
  .trim()
  .min(1, "must not be empty")
  .max(64, "must have at most 64 characters")
  .regex(
    /^([A-Za-z0-9][A-Za-z0-9._ -]*)?$/,
    "must begin with a letter or digit and have letters, digits, spaces, points, hyphens or underscores only",
  );
const name = z.string().trim().min(1, "must not be empty").max(200, "must have at most 200 characters");
const length = z.number().positive("must be over zero").max(1000, "must be at most 1000");
const revision = z.string().trim().min(1, "must not be empty").max(16, "must have at most 16 characters");

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

export const readingNameSchema = z.string().superRefine((text, context) => {
  const parsed = parseReadingName(text);
  if (!parsed.ok) context.addIssue({ code: "custom", message: parsed.reason });
});

/** Which frames of a batch a plan asks for. */
export const plannedFramesSchema = z.discriminatedUnion("kind", [
  z.strictObject({ kind: z.literal("all") }),
  z.strictObject({
    kind: z.literal("every"),
    n: z.int("must be a whole number").min(2, "must be 2 or more").max(1000, "must be at most 1000"),
    firstOff: z.boolean(),
  }),
  z.strictObject({
    kind: z.literal("drawn"),
    size: z.int("must be a whole number").min(1, "must be 1 or more").max(10_000, "must be at most 10000"),
  }),
]);

export const createLineSchema = z.strictObject({ key, name });
export const createOperationSchema = z.strictObject({
  key,
  name,
  position: z.int("must be a whole number").min(1, "must be 1 or more").max(99, "must be at most 99"),
});
export const createStationSchema = z.strictObject({
  key,
  name,
  line: key,
  operation: key,
  viewingSide: z.enum(["ds", "nds"], "must be one of the two sides"),
});
export const createSupplierSchema = z.strictObject({ key, name });
export const createFrameModelSchema = z.strictObject({ key, name, drawing: key });

/** The version that whoever changes a part was looking at. */
const version = z.int().min(0);

/** What is named and may go out of use; its key stays, since records name it. */
export const changeNamedPartSchema = z.strictObject({
  part: z.enum(["line", "supplier", "frame_model"]),
  key,
  version,
  name,
  inUse: z.boolean(),
});
export const changeOperationSchema = createOperationSchema.extend({ version });
export const changeStationSchema = createStationSchema
  .omit({ line: true, operation: true })
  .extend({ version, inUse: z.boolean() });
export const changePlantSchema = z.strictObject({ version, name, timeZone: timeZoneSchema });
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
/** "06:00": when a shift begins, in the plant's own time. */
const timeOfDay = z.string().regex(/^([01]\d|2[0-3]):[0-5]\d$/, "must be a time of day such as 06:00");
const timesOfDay = z
  .array(timeOfDay)
  .min(1, "must name at least one time of day")
  .max(6, "must name at most six times of day");

/**
 * Whether the first frame of a shift, or after an event, needs an engineer's release before the line goes on. `plan` is the
 * key of a fuller plan for the same drawing, by which that frame is measured; its own plan where it is left out.
 */
export const firstOffSchema = z.discriminatedUnion("each", [
  z.strictObject({ each: z.literal("shift"), starts: timesOfDay, plan: key.optional() }),
  z.strictObject({ each: z.literal("event"), plan: key.optional() }),
]);
/** When comparators are shown their setting rings, beside after a knock and at the end of a batch. */
export const zeroCheckRuleSchema = z.strictObject({
  starts: timesOfDay.optional(),
  everyHours: z.number("must be a number").min(0.5, "must be 0.5 or more").max(72, "must be at most 72").optional(),
  everyFrames: z
    .int("must be a whole number")
    .min(1, "must be 1 or more")
    .max(10_000, "must be at most 10000")
    .optional(),
});
const celsius = z.number("must be a number").min(-20, "must be -20 or more").max(60, "must be at most 60");
/** Where sizes may be measured, degrees Celsius, and whether the station asks for the shell's temperature. */
export const temperatureRuleSchema = z
  .strictObject({ fromC: celsius, toC: celsius, asked: z.boolean() })
  .refine(({ fromC, toC }) => fromC < toC, { path: ["toC"], message: "must be above the lower end" });
const formUm = z.number("must be a number").min(0, "must not be below zero").max(1000, "must be at most 1000");
/** What the full plans of a stream show of its form, µm: it takes the place of the drawing's limits in U. */
export const knownFormSchema = z.strictObject({
  lobeUm: formUm,
  ovalityUm: formUm,
  taperUm: formUm,
  frames: z.int("must be a whole number").min(25, "must be 25 or more"),
  /** Day of the oldest sweep behind it, where it was computed from the stored ones; left out where somebody entered it. */
  since: z.iso.date().optional(),
});
export const planSettingsSchema = z.looseObject({
  firstOff: firstOffSchema.optional(),
  zeroCheck: zeroCheckRuleSchema.optional(),
  /** Keys of plans for the same drawing that ask for less and count all the same. */
  weakerPlans: z.array(key).max(20, "name at most 20 plans").optional(),
  temperature: temperatureRuleSchema.optional(),
  form: knownFormSchema.optional(),
  closingLimitUm: z.number("must be a number").positive("must be over zero").max(100, "must be at most 100").optional(),
});

const planContent = {
  title: name,
  drawingRevisionId: uuidSchema,
  readingNames: z
    .array(readingNameSchema)
    .min(1, "choose at least one reading")
    .max(500, "must be at most 500 readings")
    .refine((names) => new Set(names).size === names.length, "each reading stands once"),
  frames: plannedFramesSchema,
  settings: planSettingsSchema.optional(),
};
export const changePlanDraftSchema = z.strictObject({
  id: uuidSchema,
  seen: z.string().regex(/^[0-9a-f]{32}$/),
  ...planContent,
});
export const draftPlanSchema = z.strictObject({
  key,
  isNew: z.boolean().optional(),

  revision,
  ...planContent,
});
export const createBatchSchema = z.strictObject({
  key,
  supplier: key,
  model: key,
  line: key,
  plan: key,
  serials: z
    .array(z.strictObject({ serial: z.string().trim().min(1).max(64), mould: z.string().trim().max(64).optional() }))
    .min(1, "name at least one frame")
    .max(10_000)
    .superRefine((list, context) => {
      const seen = new Set<string>();
      list.forEach(({ serial }, place) => {
        if (seen.has(serial)) context.addIssue({ code: "custom", path: [place], message: `${serial} stands twice` });
        seen.add(serial);
      });
    }),
});
/** mm or µm: nothing that measures a shell shows more. */
const LARGEST_SHOWN = 100_000;
/** One end of what a gauge can show: mm for bores and widths, µm of an indicator's travel. Null: nobody entered it. */
const rangeEnd = z
  .number()
  .min(-LARGEST_SHOWN, `must be -${LARGEST_SHOWN} or more`)
  .max(LARGEST_SHOWN, `must be at most ${LARGEST_SHOWN}`)
  .nullable()
  .optional();
export const gaugeEntrySchema = z.strictObject({
  key,
  name,
  kind: z.enum(["bore", "sweep", "face", "width", "plug", "bar"], "choose what it measures"),
  principle: z.enum(["two-point", "three-point", "indicator", "caliper", "plain plug", "bar"], "choose its principle"),
  resolutionUm: z.number().positive("must be over zero").max(1000, "must be at most 1000"),
  rangeLower: rangeEnd,
  rangeUpper: rangeEnd,
  /** Standard deviation of the same reading taken again. */
  repeatabilityUm: z.number().min(0, "must not be below zero").max(1000, "must be at most 1000").nullable().optional(),
  station: key.optional(),
  ring: key.optional(),
  calibratedAt: z.iso.datetime({ offset: true }).optional(),
  calibratedUntil: z.iso.datetime({ offset: true }).optional(),
});
type RangeEntry = { readonly rangeLower?: number | null | undefined; readonly rangeUpper?: number | null | undefined };

/** A range has two ends, the smaller first. */
function checkRange({ rangeLower = null, rangeUpper = null }: RangeEntry, context: z.RefinementCtx): void {
  const tell = (path: string, message: string): void => context.addIssue({ code: "custom", path: [path], message });
  if (rangeLower === null && rangeUpper !== null) tell("rangeLower", "must be given with the largest");
  if (rangeUpper === null && rangeLower !== null) tell("rangeUpper", "must be given with the smallest");
  if (rangeLower !== null && rangeUpper !== null && rangeLower >= rangeUpper)
    tell("rangeUpper", "must be larger than the smallest");
}

export const createGaugeSchema = gaugeEntrySchema.superRefine((gauge, context) => {
  checkRange(gauge, context);
  const { kind, principle, rangeLower = null } = gauge;
  if ((kind === "bore" || kind === "width") && rangeLower !== null && rangeLower < 0)
    context.addIssue({ code: "custom", path: ["rangeLower"], message: "must not be below zero: it is a size" });
  const possible: readonly string[] = PRINCIPLES_OF[kind];
  if (possible.includes(principle)) return;
  const message = `must be ${possible.join(" or ")} for what it measures`;
  context.addIssue({ code: "custom", path: ["principle"], message });
});

/** A gauge keeps its key, kind and principle: another one is another gauge. */
export const changeGaugeSchema = gaugeEntrySchema
  .pick({
    key: true,
    name: true,
    resolutionUm: true,
    rangeLower: true,
    rangeUpper: true,
    repeatabilityUm: true,
    station: true,
    ring: true,
  })
  .extend({ version, inUse: z.boolean() })
  .superRefine(checkRange);

export const createSettingRingSchema = z.strictObject({
  key,
  certifiedSizeMm: length,
  uncertaintyUm: z.number().min(0, "must not be below zero").max(1000, "must be at most 1000"),
});
export const changeSettingRingSchema = createSettingRingSchema.extend({ version, inUse: z.boolean() });

/** A calibration is due sooner than this, ten years and a day: a later date is a slip of the key. */
const LONGEST_CALIBRATION_MS = 3_654 * 86_400_000;
export const addCalibrationSchema = z
  .strictObject({
    gauge: key,
    at: z.iso.datetime({ offset: true }),
    dueAt: z.iso.datetime({ offset: true }),
    biasUm: z.number().min(-1000, "must be -1000 or more").max(1000, "must be at most 1000").nullable(),
    certificate: z.string().trim().max(200, "must have at most 200 characters"),
  })
  .refine(({ at, dueAt }) => Date.parse(dueAt) > Date.parse(at), {
    path: ["dueAt"],
    message: "must lie after the calibration",
  })
  .refine(({ at, dueAt }) => Date.parse(dueAt) - Date.parse(at) < LONGEST_CALIBRATION_MS, {
    path: ["dueAt"],
    message: "must lie within ten years of the calibration",
  });
export const releaseFirstOffSchema = z.strictObject({
  id: uuidSchema,
  stationId: uuidSchema,
  /** The first-off inspection that the signer saw. */
  inspectionId: uuidSchema,
  grounds: z.string().trim().min(3, "say on what grounds, in a few words").max(2000),
  password: z.string().min(1, "must not be empty").max(200),
});

export type CreateOperation = z.infer<typeof createOperationSchema>;
export type ChangeDrawingDraft = z.infer<typeof changeDrawingDraftSchema>;
export type ChangePlanDraft = z.infer<typeof changePlanDraftSchema>;
export type FirstOffRule = z.infer<typeof firstOffSchema>;
export type ZeroCheckSetting = z.infer<typeof zeroCheckRuleSchema>;
export type PlanSettings = z.infer<typeof planSettingsSchema>;
export type ChangeNamedPart = z.infer<typeof changeNamedPartSchema>;
export type ChangeOperation = z.infer<typeof changeOperationSchema>;
export type ChangeStation = z.infer<typeof changeStationSchema>;
export type ChangePlant = z.infer<typeof changePlantSchema>;
export type ChangeGauge = z.infer<typeof changeGaugeSchema>;
export type ChangeSettingRing = z.infer<typeof changeSettingRingSchema>;
export type CreateSettingRing = z.infer<typeof createSettingRingSchema>;
export type AddCalibration = z.infer<typeof addCalibrationSchema>;
export type ReleaseFirstOff = z.infer<typeof releaseFirstOffSchema>;
export type CreateLine = z.infer<typeof createLineSchema>;
export type CreateStation = z.infer<typeof createStationSchema>;
export type CreateSupplier = z.infer<typeof createSupplierSchema>;
export type CreateFrameModel = z.infer<typeof createFrameModelSchema>;
export type DraftDrawing = z.infer<typeof draftDrawingSchema>;
export type DraftPlan = z.infer<typeof draftPlanSchema>;
export type CreateBatch = z.infer<typeof createBatchSchema>;
export type CreateGauge = z.infer<typeof createGaugeSchema>;
