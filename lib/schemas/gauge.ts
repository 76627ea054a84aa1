import { z } from "zod";
import { clockSkewSchema, inspectorCodeSchema } from "./inspection";
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
  /** When it was done, by the clock of whoever sends it; now, where it is left out. */
  at: z.iso.datetime({ offset: true }).optional(),
  /** How far that clock is ahead of the server's: the check counts at its time less this. */
  clockSkewMs: clockSkewSchema.optional(),
  deviceId: z.string().trim().min(1).max(64).optional(),
  /** Who checked, where a station is shared; otherwise the signed-in person. */
  inspectorCode: inspectorCodeSchema.optional(),
});

/** The stretch of time in which what rests on a gauge is asked for; from its last good check until now where left out. */
export const traceGaugeSchema = z.strictObject({
  from: z.iso.datetime({ offset: true }).optional(),
  to: z.iso.datetime({ offset: true }).optional(),
});

export const gaugeParamsSchema = z.strictObject({ key: z.string().min(1).max(64) });

export type RecordZeroCheck = z.infer<typeof recordZeroCheckSchema>;
export type TraceGauge = z.infer<typeof traceGaugeSchema>;
