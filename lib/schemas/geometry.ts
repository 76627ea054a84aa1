import { z } from "zod";
import { barPassageSchema } from "./inspection";
import { shellDrawingSchema } from "./drawing";

const MOST_READINGS = 400;
/** Readings where uncertainty is drawn: each is a source of error of its own. */
const MOST_DRAWN_READINGS = 200;
/** Angles of one sweep: its harmonics grow with them, and the work with their cube. */
const MOST_ANGLES = 180;

/** Readings of the fullest section: of one name before its angle. */
function fullestSection(readings: Readonly<Record<string, unknown>>): number {
  const counts = new Map<string, number>();
  for (const name of Object.keys(readings)) {
    const section = name.split("@", 1)[0] ?? name;
    if (section !== name) counts.set(section, (counts.get(section) ?? 0) + 1);
  }
  return Math.max(0, ...counts.values());
}

/**
 * Readings of one shell with the drawing they are judged by. Readings by their names as in measurement files (mm for bores and
 * widths, µm for sweeps and faces); null is a reading that is due and was not taken. Clock positions and degrees always as
 * seen from the drive side.
 */
export const geometryRequestSchema = z
  .strictObject({
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
      .refine(
        (readings) => Object.keys(readings).length <= MOST_READINGS,
        `must have at most ${MOST_READINGS} readings`,
      )
      .refine(
        (readings) => fullestSection(readings) <= MOST_ANGLES,
        `must have at most ${MOST_ANGLES} angles a section`,
      ),
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
    /** Of the shell while it was measured, °C: it enters U, and sizes far from 20 °C prove nothing. */
    temperatureC: z.number().min(-20, "must be -20 or more").max(60, "must be at most 60").optional(),
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
  })
  .refine(
    ({ readings, monteCarlo }) => monteCarlo === undefined || Object.keys(readings).length <= MOST_DRAWN_READINGS,
    { path: ["monteCarlo"], error: `takes at most ${MOST_DRAWN_READINGS} readings; leave it out, or send fewer` },
  );

export type GeometryRequest = z.output<typeof geometryRequestSchema>;
