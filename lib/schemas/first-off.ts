import { z } from "zod";
import { uuidSchema } from "./uuid";

/** The frame that stands for the start of a shift, or for the time after an event. */
export type FirstOffFrame = {
  readonly inspectionId: string;
  readonly serial: string;
  readonly batch: string;
  readonly verdict: string;
  readonly measuredAt: string;
};

/**
 * How a station's line stands with its first-off: nothing is asked; no frame was measured since; the first frame waits for an
 * engineer; or an engineer released it. Times ISO 8601.
 */
export type FirstOffState =
  | { readonly state: "not asked" }
  | { readonly state: "due"; readonly why: string; readonly since: string }
  | { readonly state: "waiting"; readonly why: string; readonly since: string; readonly frame: FirstOffFrame }
  | {
      readonly state: "released";
      readonly why: string;
      readonly since: string;
      readonly frame: FirstOffFrame;
      readonly by: string;
      readonly at: string;
      readonly grounds: string;
    };

export const releaseFirstOffSchema = z.strictObject({
  id: uuidSchema,
  stationId: uuidSchema,
  /** The first-off inspection that the signer saw. */
  inspectionId: uuidSchema,
  grounds: z.string().trim().min(3, "give the reason, in a few words").max(2000),
  password: z.string().min(1, "must not be empty").max(200),
});

export type ReleaseFirstOff = z.infer<typeof releaseFirstOffSchema>;
