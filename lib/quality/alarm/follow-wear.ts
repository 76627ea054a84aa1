import { enterWear, newWearLine, wearForecast, type WearLine } from "../../core/control/alarm/wear-line";

/** Wear of a usual life of a tool in sd of one frame, and frames of that life: what is taken for ordinary where no life is known yet. */
const USUAL_WEAR_SD = 1.5;
const USUAL_LIFE = 300;
/** Frames of a shift, in which a zero is off by the same. All four are choices without a source. */
const SHIFT_FRAMES = 33;
/** A tool may wear so many times as fast as usual before it is a change. */
const FASTEST = 2;

type Worn = Readonly<{ age: number; value: number }>;

/** The wear of a tool as it is followed: plain data. Slopes and levels in the stream's unit. */
export type FollowedWear = Readonly<{ line: WearLine; middle: number; fastest: number }>;

/**
 * Follows the ordinary wear of a tool over the starting stretch, so that it is not taken for a change: a line of the values over
 * the frames since the tool was changed, its slope drawn towards usual wear until the frames say more.
 *
 * @param stretch - values and ages of the starting stretch
 * @param sd - of one frame
 * @param shiftSd - of what shifts ordinarily differ by
 */
export function followWear(stretch: readonly Worn[], sd: number, shiftSd: number): FollowedWear {
  const usual = (USUAL_WEAR_SD * sd) / USUAL_LIFE;
  const line = newWearLine({
    level: { mean: 0, sd: Infinity },
    slope: { mean: -usual / 2, sd: usual },
    noiseSd: Math.hypot(sd, Math.sqrt(SHIFT_FRAMES) * shiftSd),
  });
  const middle = stretch.reduce((sum, { age }) => sum + age / stretch.length, 0);
  return enterFollowed({ line, middle, fastest: FASTEST * usual }, stretch);
}

/** With more frames that are taken for unchanged. */
export function enterFollowed({ line, ...rest }: FollowedWear, frames: readonly Worn[]): FollowedWear {
  return { ...rest, line: frames.reduce((sum, { age, value }) => enterWear(sum, age, value), line) };
}

/** Wear a frame that is ordinary: a tool takes off less and less, so that a bore wears downwards only. */
export function ordinarySlope({ line, middle, fastest }: FollowedWear): number {
  return Math.max(-fastest, Math.min(0, wearForecast(line, middle)?.slope ?? 0));
}

/** A value as it would be at the middle age of the starting stretch. */
export function withoutWear(followed: FollowedWear, { age, value }: Worn): number {
  return value - ordinarySlope(followed) * (age - followed.middle);
}
