import { z } from "zod";
import { barPassageSchema } from "./inspection";
import { shellDrawingSchema } from "./setup";

/**
 * Readings of one shell with the drawing they are judged by. Readings by their names as in measurement files (mm for bores and
 * widths, µm for sweeps and faces); null is a reading that is due and was not taken. Clock positions and degrees always as
 * seen from the drive side.
 */
export const geometryRequestSchema = z.strictObject({
  /** A whole drawing, or the key of a demonstration drawing. */
  drawing: z.unknown().transform((drawing, context) => {
    if (typeof drawing === "string") return drawing.slice(0, 64);
    const parsed = shellDrawingSchema.safeParse(drawing);
    if (parsed.success) return parsed.data;
    for (const { message, path } of parsed.error.issues) context.addIssue({ code: "custom", message, path });
    return z.NEVER;
  }),
  readings: z
    .record(z.string().max(64), z.number().nullable())
    .default({})
    .refine((readings) => Object.keys(readings).length <= 1000, "must have at most 1,000 readings"),
  /** Feel of plain plugs by reading name, e.g. { "ds.plug.40.95": "hand" }. */
  plugs: z
    .record(z.string().max(64), z.enum(["slides", "hand", "no"]))
    .refine((plugs) => Object.keys(plugs).length <= 100, "must have at most 100 plugs")
    .optional(),
  /** Passage of the gauge bar of set A; of several sets by name, e.g. { "bar.A": { "result": "free" } }. */
  bar: barPassageSchema.optional(),
  bars: z
    .record(z.string().max(64), barPassageSchema)
    .refine((bars) => Object.keys(bars).length <= 20, "must have at most 20 bars")
    .optional(),
  /** How the gauges touch, by kind of reading; a lobe that is needed and not seen makes a characteristic not proven. */
  gauges: z
    .strictObject({
      bore: z.enum(["two-point", "three-point"]).optional(),
      sweep: z.enum(["indicator"]).optional(),
      face: z.enum(["indicator"]).optional(),
    })
    .optional(),
  /** The side from which sentences name clock positions. */
  seenFrom: z.enum(["ds", "nds"]).default("ds"),
  /** Uncertainty of coaxiality, tilt and functional size by Monte Carlo beside the closed form. */
  monteCarlo: z
    .strictObject({
      draws: z.int().min(100).max(10_000),
      seed: z
        .int()
        .min(0)
        .max(2 ** 31),
    })
    .optional(),
});

export type GeometryRequest = z.output<typeof geometryRequestSchema>;
