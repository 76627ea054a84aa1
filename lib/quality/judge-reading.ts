import { implausibleReading, type ReadingQuestion } from "../core/metrology/reading-plausibility";
import type { ReadingName } from "../core/metrology/reading-name";
import type { ShellDrawing } from "../core/metrology/shell-drawing";
import { conformity, guardBand } from "./conformity";
import type { Verdict } from "./verdict-words";

/** What can be said of one reading the moment it is keyed. */
export type ReadingFeedback = {
  /** Deviation from the middle of the limits, µm; null for an indicator reading, whose zero is free. */
  readonly deviationUm: number | null;
  readonly lowerMm: number | null;
  readonly upperMm: number | null;
  /** Verdict of this size by itself; null where one reading decides nothing. */
  readonly verdict: Verdict | null;
  /** Set where the value is asked about once. */
  readonly question: ReadingQuestion | null;
};

/**
 * Live feedback on one reading against the drawing: diameters and widths have limits of their own, indicator readings only
 * together.
 *
 * @param value - mm or µm as READING_UNIT says, finite
 * @param sweep - readings of the same sweep so far, this one among them
 */
export function judgeReading(
  drawing: ShellDrawing,
  name: ReadingName,
  value: number,
  sweep: readonly number[] = [],
): ReadingFeedback {
  const question = implausibleReading(drawing, name, value, sweep);
  const limits =
    name.kind === "bore" || name.kind === "width"
      ? drawing.characteristics.find((candidate) => candidate.name === name.kind)
      : undefined;
  if (limits === undefined) return { deviationUm: null, lowerMm: null, upperMm: null, verdict: null, question };
  const { lower, upper } = limits;
  const nominal = name.kind === "bore" ? drawing.nominalBoreMm : drawing.widthMm;
  const middle = lower !== null && upper !== null ? lower + (upper - lower) / 2 : nominal;
  return {
    deviationUm: (value - middle) * 1000,
    lowerMm: lower,
    upperMm: upper,
    verdict: conformity(value, { lower, upper, guard: guardBand(drawing.decisionRule, limits.uncertainty) }),
    question,
  };
}
