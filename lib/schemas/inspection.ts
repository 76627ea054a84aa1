import { z } from "zod";
import type { OffScale } from "../core/metrology/gauge-range";
import { uuidSchema } from "./uuid";

/**
 * How a reading came about: keyed as asked, impossible to take, confirmed after the question "is this right?", or a bore that
 * its gauge cannot show, since it is too large or too small. A row keeps the place in this list.
 */
export const READING_STATES = ["measured", "cannot", "confirmed", "off-scale-large", "off-scale-small"] as const;

export type ReadingState = (typeof READING_STATES)[number];

/** On which side a reading lies off the scale, by the number that a row keeps; null where it does not. */
export function offScaleOf(code: number | undefined): OffScale | null {
  const state = READING_STATES[code ?? 0];
  return state === "off-scale-large" ? "large" : state === "off-scale-small" ? "small" : null;
}

/** The same of all readings; [] where none lies off the scale, which is nearly always. */
export function offScales(codes: readonly number[]): readonly (OffScale | null)[] {
  return codes.some((code) => offScaleOf(code) !== null) ? codes.map(offScaleOf) : [];
}

/** Which readings somebody said cannot be taken, as evidence names it; nothing where none was, which is nearly always. */
export function untaken(codes: readonly number[]): { readonly cannot?: readonly boolean[] } {
  const cannot = READING_STATES.indexOf("cannot");
  return codes.includes(cannot) ? { cannot: codes.map((code) => code === cannot) } : {};
}

/** A week: an inspection that lay over a long weekend is still one. */
export const LONGEST_INSPECTION_MS = 7 * 86_400_000;
/** mm or µm: no gauge on a shell shows more, even if somebody confirms it. */
const LARGEST_READING = 100_000;
/** A clock that lost its battery begins decades ago. */
const FARTHEST_CLOCK_MS = 100 * 365.25 * 86_400_000;

/** How far a device's clock is ahead of the server's, ms: however far, its readings count at their time less this. */
export const clockSkewSchema = z.int().min(-FARTHEST_CLOCK_MS).max(FARTHEST_CLOCK_MS);

export const barPassageSchema = z.discriminatedUnion("result", [
  z.strictObject({ result: z.literal("free") }),
  z.strictObject({ result: z.literal("stiff"), clockDeg: z.number().min(0).lt(360) }),
  z.strictObject({ result: z.literal("no") }),
]);

const plugFeelSchema = z.enum(["slides", "hand", "no"]);

/** Who measured: the code on a badge, or the person's own key (UUID). */
export const inspectorCodeSchema = z.string().trim().min(1).max(36);

/** What stood for a reading and was replaced before the inspection was finished: it stays in the record. */
export const supersededReadingSchema = z.strictObject({
  index: z.int().min(0),
  /** Null where it was a word, or could not be taken. */
  value: z.number().nullable(),
  word: z.union([plugFeelSchema, barPassageSchema]).optional(),
  reason: z.string().trim().min(1).max(500),
  offsetMs: z.int().min(0),
  /** Who keyed the value, where several measured. */
  by: inspectorCodeSchema.optional(),
});

/** What is not a number: plug feel by reading name, bar passage by reading name, remark, reasons for cannot. */
export const inspectionAttributesSchema = z.strictObject({
  plugs: z.record(z.string(), plugFeelSchema).optional(),
  bars: z.record(z.string(), barPassageSchema).optional(),
  remark: z.string().trim().max(2000).optional(),
  cannotReasons: z.record(z.string(), z.string().trim().min(1).max(500)).optional(),
  temperatureC: z.number().min(-20).max(60).optional(),
  /** The plan did not ask for this frame. */
  outsidePlan: z.literal(true).optional(),
  /** Key of the line that the frame belongs to: who measured it at another line's station was asked, and said that it is the right one. */
  otherLine: z.string().trim().min(1).max(64).optional(),
  /** It stands for the line: measured in full at the start of a shift or after an event. */
  firstOff: z.literal(true).optional(),
  /** Measured while the line waited for the release of its first-off, and why. */
  beforeRelease: z.string().trim().min(1).max(500).optional(),
  /** Who took which readings, where the inspector changed half way: each from this place of the plan on. */
  inspectors: z
    .array(z.strictObject({ from: z.int().min(0), code: inspectorCodeSchema }))
    .min(2)
    .max(500)
    .refine((list) => list.every(({ from }, at) => (at === 0 ? from === 0 : from > (list[at - 1]?.from ?? 0))), {
      message: "must begin at reading 0 and go up",
    })
    .optional(),
});

/**
 * One finished inspection, as a device or a program sends it. `id` is made by the sender (UUID version 7), so that a repeated
 * send is recognised. `readings` follow the order of the plan revision; null stands for a reading that was not taken.
 */
export const recordInspectionSchema = z.strictObject({
  id: uuidSchema,
  serial: z.string().trim().min(1).max(64),
  /** When given, the frame has to be of this batch. */
  batch: z.string().trim().min(1).max(64).optional(),
  stationId: uuidSchema,
  planRevisionId: uuidSchema,
  readings: z.array(z.number().min(-LARGEST_READING).max(LARGEST_READING).nullable()).min(1).max(500),
  /** Gauge of each reading by its key, or one key for all. */
  gauges: z.union([z.string().min(1).max(64), z.array(z.string().min(1).max(64).nullable())]).optional(),
  states: z.array(z.enum(READING_STATES)).optional(),
  /** Milliseconds from the start of the inspection to each reading. */
  offsetsMs: z.array(z.int().min(0).max(LONGEST_INSPECTION_MS)).optional(),
  superseded: z.array(supersededReadingSchema).max(500).optional(),
  attributes: inspectionAttributesSchema.optional(),
  /** The device's clock when the inspection was finished, and its measured distance from the server's clock. */
  deviceTime: z.iso.datetime({ offset: true }),
  clockSkewMs: clockSkewSchema.optional(),
  /** Why the frame is measured again: required for a second inspection of the same frame and operation. */
  reason: z.string().trim().min(1).max(500).optional(),
  deviceId: z.string().trim().min(1).max(64).optional(),
  /** Who finished it, where a station is shared; otherwise the signed-in person. */
  inspectorCode: inspectorCodeSchema.optional(),
  tool: z.string().trim().max(64).optional(),
  fixture: z.string().trim().max(64).optional(),
});

export type RecordInspection = z.infer<typeof recordInspectionSchema>;

/** Many inspections in one request: each is checked by itself, so that one bad one keeps nothing else out. */
export const manyInspectionsSchema = z.strictObject({ inspections: z.array(z.unknown()).min(1).max(1000) });

/** Whether a body was meant as many inspections, so that problems are named by the shape that was meant. */
export function isMeantAsMany(body: unknown): boolean {
  return typeof body === "object" && body !== null && "inspections" in body;
}
