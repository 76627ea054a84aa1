import { z } from "zod";
import { WHY_FACTORS } from "@/lib/quality/why/why-reading";
import { plantDayEnd, plantDayStart } from "@/lib/schemas/plant-day";
import type { WhySpan } from "@/lib/server/drift/why-frames";

/** Frames where no first day is asked for. */
export const NEWEST_FRAMES = 2000;

const day = z.iso.date().optional().catch(undefined);

/** What a comparison is asked for in its address: by what, of which days, and from which day the second period runs. */
export const whySearchSchema = z.object({ by: z.enum(WHY_FACTORS).catch("inspector"), from: day, to: day, split: day });
export type WhySearch = z.infer<typeof whySearchSchema>;

/** The days by the plant's clock; without a first one the newest frames. */
export function whySpan({ from, to }: WhySearch, zone: string): WhySpan {
  return {
    from: from === undefined ? undefined : plantDayStart(from, zone),
    to: to === undefined ? undefined : plantDayEnd(to, zone),
    ...(from === undefined ? { frames: NEWEST_FRAMES } : {}),
  };
}
