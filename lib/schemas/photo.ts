import { z } from "zod";
import { uuidSchema } from "./uuid";

/** Bytes of a photo at most, as JPEG. */
export const PHOTO_MAX_BYTES = 1_500_000;

/** A photo of an inspection, made small on the device. `id` is made by the sender, so that a repeated send is recognised. */
export const keepPhotoSchema = z.strictObject({
  id: uuidSchema,
  inspectionId: uuidSchema,
  /** The JPEG file in base64. */
  jpeg: z.base64().max(Math.ceil(PHOTO_MAX_BYTES / 3) * 4),
});

export type KeepPhoto = z.infer<typeof keepPhotoSchema>;
