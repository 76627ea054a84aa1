"use server";

import { refresh } from "next/cache";
import { z } from "zod";
import {
  changeNamedPartSchema,
  changeOperationSchema,
  changePlantSchema,
  changeStationSchema,
} from "@/lib/schemas/plant-parts";
import { seenVersion, typedNumberSchema } from "@/lib/schemas/typed-number";
import { defineAction } from "@/lib/server/doors/action";
import { changeNamedPart, changeOperation, changePlant, changeStation } from "@/lib/server/plant/change-parts";
import { inUseBox } from "../_components/in-use";

const namedPartForm = z
  .object({ part: z.string(), key: z.string(), version: seenVersion, name: z.string(), inUse: inUseBox })
  .pipe(changeNamedPartSchema);

export const changeNamedPartAction = defineAction(namedPartForm, async (viewer, input) => {
  await changeNamedPart(viewer, input);
  refresh();
  return null;
});

const operationForm = z
  .object({ key: z.string(), version: seenVersion, name: z.string(), position: typedNumberSchema })
  .pipe(changeOperationSchema);

export const changeOperationAction = defineAction(operationForm, async (viewer, input) => {
  await changeOperation(viewer, input);
  refresh();
  return null;
});

const stationForm = z
  .object({ key: z.string(), version: seenVersion, name: z.string(), viewingSide: z.string(), inUse: inUseBox })
  .pipe(changeStationSchema);

export const changeStationAction = defineAction(stationForm, async (viewer, input) => {
  await changeStation(viewer, input);
  refresh();
  return null;
});

const plantForm = z.object({ version: seenVersion, name: z.string(), timeZone: z.string() }).pipe(changePlantSchema);

export const changePlantAction = defineAction(plantForm, async (viewer, input) => {
  await changePlant(viewer, input);
  refresh();
  return null;
});
