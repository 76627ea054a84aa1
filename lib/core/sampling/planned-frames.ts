/** Which frames of a batch a plan asks for. */
export type PlannedFrames = {
  readonly kind: "all" | "every" | "drawn";
  readonly n?: number;
  readonly size?: number;
  readonly firstOff?: boolean;
};

/**
 * Whether the plan asks for a frame of the batch.
 *
 * @param position - place of the frame in its batch, from 1
 * @param frames - how many the batch has
 * @param isDrawn - whether it is among the serials drawn for the batch; null while none were drawn
 * @returns for "every": each n-th place, the first one as first-off, and the first one of a batch that has no n-th, so that
 *   none ships without a single reading; for a sample that is not drawn yet: true
 */
export function isFramePlanned(
  planned: PlannedFrames,
  position: number,
  frames: number,
  isDrawn: boolean | null,
): boolean {
  const every = Math.max(1, planned.n ?? 1);
  switch (planned.kind) {
    case "all":
      return true;
    case "every":
      return position % every === 0 || (position === 1 && (planned.firstOff === true || frames < every));
    case "drawn":
      return isDrawn ?? true;
  }
}
