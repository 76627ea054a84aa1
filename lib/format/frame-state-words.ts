import type { FrameState } from "../quality/frame-state";

/** A frame's state in words. */
export const FRAME_STATE_WORDS = {
  unmeasured: "unmeasured",
  in_measurement: "in measurement",
  measured: "measured",
  held: "held",
  released: "released",
  in_rework: "in rework",
  on_concession: "on concession",
  regraded: "regraded",
  scrapped: "scrapped",
  returned: "returned",
  shipped: "shipped",
} as const satisfies Record<FrameState, string>;
