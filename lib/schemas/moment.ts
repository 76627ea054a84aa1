import { z } from "zod";

/** Years that a plant's records can speak of: what lies outside is a slip, and no database or calendar keeps all of it. */
const FIRST_YEAR = 1900;
const LAST_YEAR = 2999;
/** No zone is further from UTC (IANA time zone database: Kiritimati is at +14:00). */
const FURTHEST_ZONE_HOURS = 14;

const isInYears = (year: number): boolean => year >= FIRST_YEAR && year <= LAST_YEAR;

function isKnownZone(moment: string): boolean {
  const [, hours, minutes] = /[+-](\d{2}):(\d{2})$/.exec(moment) ?? [];
  return Number(hours ?? 0) + Number(minutes ?? 0) / 60 <= FURTHEST_ZONE_HOURS;
}

const YEARS_WORDS = `must lie in the years ${FIRST_YEAR} to ${LAST_YEAR}`;

/** A day and time with its distance from UTC, such as 2026-06-05T14:30:00+02:00. */
export const momentSchema = z.iso
  .datetime({ offset: true })
  .refine((moment) => isInYears(new Date(moment).getUTCFullYear()), YEARS_WORDS)
  .refine(isKnownZone, `must be at most ${FURTHEST_ZONE_HOURS} hours from UTC`);

/** A day of a calendar, such as 2026-06-05. */
export const daySchema = z.iso
  .date("must be a day such as 2026-06-05")
  .refine((day) => isInYears(Number(day.slice(0, 4))), YEARS_WORDS);
