import { formatFixed } from "../format/number-text";
import type { Estimate } from "../core/errors";

/** An expanded uncertainty (k = 2) of the number that a sentence names first. */
export type MeaningUncertainty = { readonly value: number; readonly unit: "µm" | "mm" | "arcmin" };

/**
 * One thing that the readings of a frame mean: the data, and what a person reads. `figure` is the short form beside the
 * title, `sentence` stands alone, `explanation` says how it was computed.
 */
export type Meaning<T> = {
  readonly title: string;
  readonly figure: string | null;
  readonly sentence: string;
  readonly result: Estimate<T>;
  readonly uncertainty: MeaningUncertainty | null;
  readonly assumptions: readonly string[];
  readonly explanation: string;
};

type Wording = Pick<Meaning<unknown>, "title" | "explanation"> & { readonly assumptions?: readonly string[] };

/** A meaning with an answer. */
export function meaningOf<T>(
  wording: Wording,
  value: T,
  said: { readonly figure: string; readonly sentence: string; readonly uncertainty?: MeaningUncertainty },
): Meaning<T> {
  return {
    title: wording.title,
    figure: said.figure,
    sentence: said.sentence,
    result: { ok: true, value, warnings: [] },
    uncertainty: said.uncertainty ?? null,
    assumptions: wording.assumptions ?? [],
    explanation: wording.explanation,
  };
}

/** A meaning without an answer: the reason is the sentence. */
export function notEstimable<T>(wording: Wording, reason: string): Meaning<T> {
  const why = reason.replace(/^not estimable: /, "");
  return {
    title: wording.title,
    figure: null,
    sentence: `Not estimable: ${why}.`,
    result: { ok: false, reason: why },
    uncertainty: null,
    assumptions: wording.assumptions ?? [],
    explanation: wording.explanation,
  };
}

/** Whole micrometres; never "-0". */
export function wholeUm(valueUm: number): string {
  return formatFixed(valueUm, 0);
}

/** "25 to 36 µm". */
export function rangeUm(low: number, high: number): string {
  return `${wholeUm(low)} to ${wholeUm(high)} µm`;
}

/** "ø 40.984". */
export function diameterText(valueMm: number): string {
  return `ø ${formatFixed(valueMm, 3)}`;
}

/** "2.9′". */
export function arcminText(value: number): string {
  return `${formatFixed(value, 1)}′`;
}
