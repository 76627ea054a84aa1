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
 * @param isDrawn - whether it is among the serials drawn for the batch; null while none were drawn
 * @returns for "every": each n-th place, and the first one as first-off; for a sample that is not drawn yet: true
 */
export function isFramePlanned(planned: PlannedFrames, position: number, isDrawn: boolean | null): boolean {
  switch (planned.kind) {
    case "all":
      return true;
    case "every":
      return (planned.firstOff === true && position === 1) || position % Math.max(1, planned.n ?? 1) === 0;
    case "drawn":
      return isDrawn ?? true;
  }
}
