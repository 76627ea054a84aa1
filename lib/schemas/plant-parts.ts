import { z } from "zod";
import { key, name, version } from "./keyed-name";
import { timeZoneSchema } from "./time-zone";

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

export type CreateOperation = z.infer<typeof createOperationSchema>;

export type ChangeNamedPart = z.infer<typeof changeNamedPartSchema>;

export type ChangeOperation = z.infer<typeof changeOperationSchema>;

export type ChangeStation = z.infer<typeof changeStationSchema>;

export type ChangePlant = z.infer<typeof changePlantSchema>;

export type CreateLine = z.infer<typeof createLineSchema>;

export type CreateStation = z.infer<typeof createStationSchema>;

export type CreateSupplier = z.infer<typeof createSupplierSchema>;

export type CreateFrameModel = z.infer<typeof createFrameModelSchema>;
