import "server-only";

/** A frame of a batch, and whether it has a result or waits for one; a frame that left without one is neither. */
export type PlacedFrame = {
  readonly serial: string;
  readonly position: number;
  readonly isMeasured: boolean;
  readonly isUnmeasured: boolean;
};

/**
 * How many more frames have to be measured in the place of ones that the plan asks for and that left the batch unmeasured, scrapped
 * or sent back: each took its part of the sample with it, and another one stands for it, as long as there is one.
 *
 * @param asked - frames that the plan asks for, of `frames`
 */
export function replacementsDue(asked: readonly PlacedFrame[], frames: readonly PlacedFrame[]): number {
  const isAsked = new Set(asked.map(({ serial }) => serial));
  const others = frames.filter((one) => !isAsked.has(one.serial));
  const left = asked.filter((one) => !one.isUnmeasured && !one.isMeasured).length;
  const inPlace = others.filter((one) => one.isMeasured).length;
  return Math.min(Math.max(0, left - inPlace), others.filter((one) => one.isUnmeasured).length);
}

/** Frames that the plan asks for and that have no result, and those that have to be measured in the place of others. */
export function missingCount(asked: readonly PlacedFrame[], frames: readonly PlacedFrame[]): number {
  return asked.filter((one) => one.isUnmeasured).length + replacementsDue(asked, frames);
}
