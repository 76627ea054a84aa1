import "server-only";
import { AppError } from "../../errors";
import { formatMoment } from "../../format/date-text";
import { BASE_WORDS } from "./words";

const words = BASE_WORDS.moment;

/** A clock may be ahead by so much; what was done "in the future" within it was done now. Common practice, no source. */
export const AHEAD_ALLOWED_MS = 5 * 60_000;
/** Before this a clock was never set. */
export const EARLIEST_MOMENT_MS = Date.parse("2000-01-01T00:00:00Z");

/**
 * When something was done, as it was sent: refused before the year 2000 and in the future.
 *
 * @param of - what it is the time of, e.g. "zero check"
 * @param kept - what the refusal says of what was sent
 * @param path - the field that holds it
 * @param zone - the plant's, by which the refusal says the moment
 * @returns the moment, at the latest `now`
 * @throws AppError invalid-input, with `clock` in its details: the clock of whoever sent it may be wrong
 */
export function momentDone(
  at: Date,
  now: Date,
  {
    of,
    kept,
    path,
    zone,
  }: { readonly of: string; readonly kept: string; readonly path: string; readonly zone: string },
): Date {
  const ms = at.getTime();
  const refuse = (where: string, message: string): AppError =>
    new AppError(
      "invalid-input",
      words.timeOfLies(of, Number.isNaN(ms) ? words.noTime : formatMoment(at, { zone }), where, kept),
      {
        details: { clock: true },
        fields: [{ path, message }],
      },
    );
  if (!(ms >= EARLIEST_MOMENT_MS)) throw refuse("before the year 2000", "must not lie before the year 2000");
  if (ms - now.getTime() > AHEAD_ALLOWED_MS)
    throw refuse("in the future", "must not lie more than 5 minutes in the future");
  return at > now ? now : at;
}
