import { z } from "zod";
import { PRINCIPLES_OF } from "../core/metrology/gauge-range";
import { length } from "./drawing";
import { clockSkewSchema, inspectorCodeSchema } from "./inspection";
import { key, name, version } from "./keyed-name";
import { momentSchema } from "./moment";
import { uuidSchema } from "./uuid";

/** When a comparator is checked in its setting ring. */
export const ZERO_CHECK_OCCASIONS = ["shift start", "after a knock", "batch end", "other"] as const;

/**
 * A comparator shown its setting ring. `id` is made by the sender (UUID version 7), so that a repeated send is recognised;
 * `readingMm` is the size that the gauge shows in the ring.
 */
export const recordZeroCheckSchema = z.strictObject({
  id: uuidSchema,
  gauge: z.string().trim().min(1).max(64),
  readingMm: z.number().positive().max(1000),
  /** The ring that it was shown, where it may have got another since; otherwise its own. */
  ring: z.string().trim().min(1).max(64).optional(),
  occasion: z.enum(ZERO_CHECK_OCCASIONS),
  /** When it was done, by the clock of whoever sends it, which may be off by decades; now, where it is left out. */
  at: z.iso.datetime({ offset: true }).optional(),
  /** How far that clock is ahead of the server's: the check counts at its time less this. */
  clockSkewMs: clockSkewSchema.optional(),
  deviceId: z.string().trim().min(1).max(64).optional(),
  /** Who checked, where a station is shared; otherwise the signed-in person. */
  inspectorCode: inspectorCodeSchema.optional(),
});

/** The stretch of time in which what rests on a gauge is asked for; from its last good check until now where left out. */
export const traceGaugeSchema = z.strictObject({
  from: momentSchema.optional(),
  to: momentSchema.optional(),
});

export const gaugeParamsSchema = z.strictObject({ key: z.string().min(1).max(64) });

export type RecordZeroCheck = z.infer<typeof recordZeroCheckSchema>;
export type TraceGauge = z.infer<typeof traceGaugeSchema>;

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
  calibratedAt: momentSchema.optional(),
  calibratedUntil: momentSchema.optional(),
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
    at: momentSchema,
    dueAt: momentSchema,
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

export type ChangeGauge = z.infer<typeof changeGaugeSchema>;

export type ChangeSettingRing = z.infer<typeof changeSettingRingSchema>;

export type CreateSettingRing = z.infer<typeof createSettingRingSchema>;

export type AddCalibration = z.infer<typeof addCalibrationSchema>;

export type CreateGauge = z.infer<typeof createGaugeSchema>;
