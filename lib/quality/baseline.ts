import type { JudgedCharacteristic } from "./judge-frame";
import { APPROVABLE_FRAMES, PROVISIONAL_FRAMES } from "./control-limits";

/** What a stream is about, as verdicts name it. */
export type BaselineSubject = Readonly<{
  characteristic: JudgedCharacteristic["name"];
  seat: JudgedCharacteristic["seat"];
}>;

/** A frame that may be part of a baseline. */
export type BaselineCandidate = Readonly<{
  /** Its verdicts, or those of them that are not *conforms*. */
  characteristics: readonly Pick<JudgedCharacteristic, "name" | "seat" | "verdict">[];
  /** A signal of the stream at this frame has an assigned cause. */
  hasCause: boolean;
}>;

/** Whether a frame is not shown to conform in what a stream is about. */
export function failsIn(
  characteristics: BaselineCandidate["characteristics"],
  { characteristic, seat }: BaselineSubject,
): boolean {
  return characteristics.some((one) => one.verdict !== "conforms" && one.name === characteristic && one.seat === seat);
}

/**
 * Whether a frame lies outside the guarded limit of what a stream is about, by what was measured: a doubt about a gauge alone does not
 * put it there.
 */
export function liesOutside(
  characteristics: readonly (Pick<JudgedCharacteristic, "name" | "seat" | "verdict" | "value"> & {
    readonly reason?: unknown;
  })[],
  { characteristic, seat }: BaselineSubject,
): boolean {
  return characteristics.some(
    (one) =>
      one.name === characteristic &&
      one.seat === seat &&
      (one.verdict === "does not conform" ||
        (one.verdict === "not proven" && one.value !== null && one.reason === undefined)),
  );
}

/** A frame that is not shown to conform, or at which a person found a cause, says nothing of the process as it should be. */
export function isOutOfBaseline({ characteristics, hasCause }: BaselineCandidate, subject: BaselineSubject): boolean {
  return hasCause || failsIn(characteristics, subject);
}

/**
 * Places of the frames that make a baseline: of those that may be in it the first ones, or the newest.
 *
 * @param frames - number of frames of the stream
 * @param isOut - whether the frame of a place is left out
 * @param size - how many frames make a baseline, 100 by default; all where there are fewer
 * @returns places, ascending
 */
export function baselinePlaces(
  frames: number,
  isOut: (place: number) => boolean,
  size: number = APPROVABLE_FRAMES,
  end: "first" | "newest" = "first",
): number[] {
  const places: number[] = [];
  for (let step = 0; step < frames && places.length < size; step += 1) {
    const place = end === "first" ? step : frames - 1 - step;
    if (!isOut(place)) places.push(place);
  }
  return end === "first" ? places : places.reverse();
}

/**
 * The baseline of a stream out of its frames, for limits that stay as they are until they are made anew: 25 frames, or 100 as
 * soon as so many may be in it.
 *
 * @param frames - in the order of measuring, each with a value of the stream
 * @param size - another number of frames
 */
export function baselineOf<Frame extends BaselineCandidate>(
  frames: readonly Frame[],
  subject: BaselineSubject,
  options: { readonly size?: number; readonly end?: "first" | "newest" } = {},
): Frame[] {
  const eligible = frames.filter((frame) => !isOutOfBaseline(frame, subject));
  const size = options.size ?? (eligible.length >= APPROVABLE_FRAMES ? APPROVABLE_FRAMES : PROVISIONAL_FRAMES);
  const places = baselinePlaces(eligible.length, () => false, size, options.end);
  return places.flatMap((place) => eligible[place] ?? []);
}
