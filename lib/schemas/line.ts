import { z } from "zod";
import { uuidSchema } from "./uuid";

const deviceIdSchema = z.string().trim().min(1).max(64);
const serialSchema = z.string().trim().min(1).max(64);

/** A frame is taken in hand at a station. */
export const startFrameSchema = z.strictObject({
  serial: serialSchema,
  deviceId: deviceIdSchema,
  batch: z.string().trim().min(1).max(64).optional(),
  /** Where it is measured: earlier inspections are counted by this station's operation. */
  stationId: uuidSchema.optional(),
});

/** A started measurement is given up; another device's only with a reason. */
export const giveUpFrameSchema = z.strictObject({
  serial: serialSchema,
  deviceId: deviceIdSchema.optional(),
  reason: z.string().trim().min(1).max(500).optional(),
});

/** What a device says of itself now and then. */
const deviceNameSchema = z.string().trim().min(1, "must not be empty").max(100);

export const reportDeviceSchema = z.strictObject({
  deviceId: deviceIdSchema,
  stationId: uuidSchema,
  /** What people call the device, as typed on it; counts where nobody named it yet. */
  name: deviceNameSchema.optional(),
  waiting: z.int().min(0).max(1_000_000),
  refused: z.int().min(0).max(1_000_000),
  /** When the oldest waiting inspection was finished, milliseconds since 1970 by the device. */
  oldestAt: z.int().min(0).nullable(),
  /** Device clock minus server clock. */
  clockSkewMs: z.int().nullable(),
  /** The batch that it has in hand. */
  batch: z.string().trim().min(1).max(64).nullable().optional(),
  /** Frames whose result on the device was another than the server's: a fault of the program. */
  differences: z.array(serialSchema).max(20).optional(),
});

export const deviceSchema = z.strictObject({ id: deviceIdSchema });
export const revokeDeviceSchema = z.strictObject({
  id: deviceIdSchema,
  reason: z.string().trim().min(3, "say why, in a few words").max(500),
});
export const changeDeviceSchema = z.strictObject({
  id: deviceIdSchema,
  name: deviceNameSchema,
});

export type RevokeDevice = z.infer<typeof revokeDeviceSchema>;
export type ChangeDevice = z.infer<typeof changeDeviceSchema>;
export type ReportDevice = z.infer<typeof reportDeviceSchema>;

export const withdrawInspectionSchema = z.strictObject({
  id: uuidSchema,
  /** Where it is withdrawn: another device than the one that recorded it. */
  deviceId: deviceIdSchema.optional(),
  reason: z.string().trim().min(1).max(500),
});
