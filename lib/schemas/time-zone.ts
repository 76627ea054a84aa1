import { z } from "zod";

function isTimeZone(name: string): boolean {
  try {
    return new Intl.DateTimeFormat("en", { timeZone: name }).resolvedOptions().timeZone !== "";
  } catch (error) {
    if (error instanceof RangeError) return false;
    throw error;
  }
}

/** Name of a time zone that this program knows, such as Europe/Lisbon. */
export const timeZoneSchema = z.string().trim().refine(isTimeZone, "must be an IANA time zone such as Europe/Lisbon");
