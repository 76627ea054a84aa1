"use server";

import { refresh } from "next/cache";
import { z } from "zod";
import { changeGaugeSchema, changeSettingRingSchema } from "@/lib/schemas/gauge";
import { optionalNumberSchema, seenVersion, typedNumberSchema } from "@/lib/schemas/typed-number";
import { defineAction } from "@/lib/server/doors/action";
import { changeGauge, changeSettingRing } from "@/lib/server/gauges/change-gauges";
import { inUseBox } from "../_components/in-use";

const gaugeForm = z
  .object({
    key: z.string(),
    version: seenVersion,
    name: z.string(),
    resolutionUm: typedNumberSchema,
    rangeLower: optionalNumberSchema,
    rangeUpper: optionalNumberSchema,
    repeatabilityUm: optionalNumberSchema,
    station: z.string(),
    ring: z.string(),
    inUse: inUseBox,
  })
  .transform(({ station, ring, ...gauge }): z.input<typeof changeGaugeSchema> => ({
    ...gauge,
    ...(station === "" ? {} : { station }),
    ...(ring === "" ? {} : { ring }),
  }))
  .pipe(changeGaugeSchema);

export const changeGaugeAction = defineAction(gaugeForm, async (viewer, input) => {
  await changeGauge(viewer, input);
  refresh();
  return null;
});

const ringForm = z
  .object({
    key: z.string(),
    version: seenVersion,
    certifiedSizeMm: typedNumberSchema,
    uncertaintyUm: typedNumberSchema,
    inUse: inUseBox,
  })
  .pipe(changeSettingRingSchema);

export const changeSettingRingAction = defineAction(ringForm, async (viewer, input) => {
  await changeSettingRing(viewer, input);
  refresh();
  return null;
});
