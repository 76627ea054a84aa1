/** Frames further apart begin another shift. Common practice, no source. */
const SHIFT_GAP_MS = 4 * 3_600_000;

/**
 * The shift of each frame, counted from 0 by the pauses between frames.
 *
 * @param times - of the frames in the order of measuring, ms since 1970; null where it is not known
 */
export function shiftsOf(times: readonly (number | null)[]): (string | null)[] {
  let shift = 0;
  let last: number | null = null;
  return times.map((time) => {
    if (time === null) return null;
    if (last !== null && time - last > SHIFT_GAP_MS) shift += 1;
    last = time;
    return String(shift);
  });
}
