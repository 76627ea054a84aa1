import type { ReactNode } from "react";

/** Texts of parts that several pages of Drift have. */
export const DRIFT_PART_WORDS = {
  live: {
    notLive: (dot: ReactNode, time: string) => (
      <>
        {dot}not live since {time}, trying again
      </>
    ),
    live: "live",
    connecting: "connecting",
  },
};
