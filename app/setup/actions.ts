"use server";

import { refresh } from "next/cache";
import { redirect } from "next/navigation";
import { z } from "zod";
import { AppError } from "@/lib/errors";
import { plantDayEnd, plantDayStart } from "@/lib/schemas/plant-day";
import { uuidV7 } from "@/lib/schemas/identifier";
import { daySchema } from "@/lib/schemas/moment";
import { changeOwnPasswordSchema } from "@/lib/schemas/people";
import { readSerialList } from "@/lib/schemas/serial-list";
import {
  addCalibrationSchema,
  createGaugeSchema,
  gaugeEntrySchema,
  createSettingRingSchema,
} from "@/lib/schemas/gauge";
import { changePlanDraftSchema, draftPlanSchema } from "@/lib/schemas/plan";
import { createBatchSchema } from "@/lib/schemas/batch";
import {
  createFrameModelSchema,
  createLineSchema,
  createOperationSchema,
  createStationSchema,
  createSupplierSchema,
} from "@/lib/schemas/plant-parts";
import { releaseFirstOffSchema } from "@/lib/schemas/first-off";
import { releaseRevisionSchema } from "@/lib/schemas/drawing";
import { optionalNumberSchema, typedNumberSchema } from "@/lib/schemas/typed-number";
import { defineAction } from "@/lib/server/doors/action";
import { parseInput } from "@/lib/server/base/parse-input";
import { changeOwnPassword } from "@/lib/server/people/commands";
import {
  createLine,
  createOperation,
  createStation,
  createSupplier,
  createFrameModel,
} from "@/lib/server/plant/create-parts";
import { createGauge } from "@/lib/server/gauges/change-gauges";
import { createBatch } from "@/lib/server/batches/commands";
import { draftDrawing, releaseDrawing } from "@/lib/server/drawings/commands";
import { draftPlan, releasePlan } from "@/lib/server/plans/commands";
import { changeDrawingDraft } from "@/lib/server/drawings/commands";
import { changePlanDraft } from "@/lib/server/plans/commands";
import { releaseFirstOff } from "@/lib/server/gate/first-off";
import { addCalibration, type CalibrationAdded } from "@/lib/server/gauges/add-calibration";
import { createSettingRing } from "@/lib/server/gauges/change-gauges";
import { drawingEntrySchema } from "./_components/drawing-entry";
import { uuidSchema } from "@/lib/schemas/uuid";
import { SETUP_WORDS } from "./words/first-page";

const words = SETUP_WORDS.answers;

export const createLineAction = defineAction(createLineSchema, async (viewer, input) => {
  await createLine(viewer, input);
  refresh();
  return null;
});

const operationFormSchema = z
  .object({ key: z.string(), name: z.string(), position: typedNumberSchema })
  .pipe(createOperationSchema);

export const createOperationAction = defineAction(operationFormSchema, async (viewer, input) => {
  await createOperation(viewer, input);
  refresh();
  return null;
});

export const createStationAction = defineAction(createStationSchema, async (viewer, input) => {
  await createStation(viewer, input);
  refresh();
  return null;
});

export const createSupplierAction = defineAction(createSupplierSchema, async (viewer, input) => {
  await createSupplier(viewer, input);
  refresh();
  return null;
});

export const createFrameModelAction = defineAction(createFrameModelSchema, async (viewer, input) => {
  await createFrameModel(viewer, input);
  refresh();
  return null;
});

const ringFormSchema = z
  .object({ key: z.string(), certifiedSizeMm: typedNumberSchema, uncertaintyUm: typedNumberSchema })
  .pipe(createSettingRingSchema);

export const createSettingRingAction = defineAction(ringFormSchema, async (viewer, input) => {
  await createSettingRing(viewer, input);
  refresh();
  return null;
});

const gaugeFormSchema = z
  .object({
    ...gaugeEntrySchema.pick({ key: true, name: true, kind: true, principle: true }).shape,
    resolutionUm: typedNumberSchema,
    rangeLower: optionalNumberSchema,
    rangeUpper: optionalNumberSchema,
    repeatabilityUm: optionalNumberSchema,
    station: z.string(),
    ring: z.string(),
  })
  .transform(({ station, ring, ...gauge }): z.input<typeof createGaugeSchema> => ({
    ...gauge,
    ...(station === "" ? {} : { station }),
    ...(ring === "" ? {} : { ring }),
  }))
  .pipe(createGaugeSchema);

export const createGaugeAction = defineAction(gaugeFormSchema, async (viewer, input) => {
  await createGauge(viewer, input);
  refresh();
  return null;
});

const calibrationFormSchema = z.object({
  gauge: z.string(),
  at: daySchema,
  dueAt: daySchema,
  biasUm: optionalNumberSchema,
  certificate: z.string(),
});

/** What a calibration did to what was measured already; null where it did nothing. */
function calibrationDone({ held, escapes }: CalibrationAdded): string | null {
  if (held === 0 && escapes === 0) return null;
  const frames = words.framesAre(held);
  const shipped = escapes === 0 ? "" : words.shippedAreInQuestion(escapes);
  return words.enteredByHeldSinceGauge(frames, shipped);
}

/** A calibration holds from the beginning of its day to the end of the day on which it is due, by the plant's clock. */
export const addCalibrationAction = defineAction(calibrationFormSchema, async (viewer, { at, dueAt, ...form }) => {
  const zone = viewer.plantZone;
  const from = plantDayStart(at, zone).toISOString();
  const until = plantDayEnd(dueAt, zone).toISOString();
  const added = await addCalibration(viewer, parseInput(addCalibrationSchema, { ...form, at: from, dueAt: until }));
  refresh();
  return calibrationDone(added);
});

/** Serials as typed; a problem is told by its line. */
const batchFormSchema = z
  .object({ ...createBatchSchema.omit({ serials: true }).shape, serials: z.string().max(400_000) })
  .transform((form, context) => {
    const { serials, problems } = readSerialList(form.serials);
    for (const { line, message } of problems)
      context.addIssue({ code: "custom", path: ["serials"], message: words.line(line, message) });
    if (serials.length === 0 && problems.length === 0)
      context.addIssue({ code: "custom", path: ["serials"], message: words.nameAtLeastOneFrame });
    return { form, serials };
  });

export const createBatchAction = defineAction(
  batchFormSchema,
  async (viewer, { form, serials }) => {
    const batch = createBatchSchema.parse({ ...form, serials: serials.map(({ line: _line, ...frame }) => frame) });
    try {
      await createBatch(viewer, batch);
    } catch (error) {
      if (!(error instanceof AppError)) throw error;
      const fields = error.fields.map(({ path, message }) => {
        const place = /^serials\[(\d+)\]$/.exec(path)?.[1];
        const line = place === undefined ? undefined : serials[Number(place)]?.line;
        return line === undefined ? { path, message } : { path: "serials", message: words.line(line, message) };
      });
      throw new AppError(error.code, error.userMessage, { fields, cause: error });
    }
    refresh();
    return { frames: serials.length };
  },
  { maxCharacters: 410_000 },
);

/** A drawing as its form holds it: a new one, a new revision of one, or a changed draft. */
const saveDrawingSchema = z.strictObject({
  mode: z.enum(["new", "revision", "draft"]),
  id: uuidSchema.optional(),
  seen: z.string().optional(),
  entry: drawingEntrySchema,
});

export const saveDrawingAction = defineAction(saveDrawingSchema, async (viewer, { mode, id, seen, entry }) => {
  if (mode === "draft" && id !== undefined && seen !== undefined) {
    await changeDrawingDraft(viewer, { id, seen, drawing: entry });
    redirect(`/setup/drawings/${id}`);
  }
  const made = await draftDrawing(viewer, { drawing: entry, isNew: mode === "new" });
  redirect(`/setup/drawings/${made.id}`);
});

export const releaseDrawingAction = defineAction(releaseRevisionSchema, async (viewer, { id }) => {
  await releaseDrawing(viewer, id);
  refresh();
  return null;
});

export const draftPlanAction = defineAction(draftPlanSchema, async (viewer, input) => {
  const { id } = await draftPlan(viewer, input);
  redirect(`/setup/plans/${id}`);
});

export const changePlanDraftAction = defineAction(changePlanDraftSchema, async (viewer, input) => {
  await changePlanDraft(viewer, input);
  redirect(`/setup/plans/${input.id}`);
});

export const releasePlanAction = defineAction(releaseRevisionSchema, async (viewer, { id }) => {
  await releasePlan(viewer, id);
  refresh();
  return null;
});

const firstOffFormSchema = z
  .object({ stationId: z.string(), inspectionId: z.string(), grounds: z.string(), password: z.string() })
  .transform((form) => ({ id: uuidV7(), ...form }))
  .pipe(releaseFirstOffSchema);

export const releaseFirstOffAction = defineAction(firstOffFormSchema, async (viewer, input) => {
  await releaseFirstOff(viewer, input);
  refresh();
  return null;
});

const ownPasswordFormSchema = z
  .object({ currentPassword: z.string(), newPassword: z.string(), again: z.string() })
  .transform(({ again, ...form }, context) => {
    if (again !== form.newPassword)
      context.addIssue({ code: "custom", path: ["again"], message: words.isNotSameAsNew });
    return form;
  })
  .pipe(changeOwnPasswordSchema);

export const changeOwnPasswordAction = defineAction(ownPasswordFormSchema, async (viewer, input) => {
  await changeOwnPassword(viewer, input);
  redirect("/sign-in");
});
