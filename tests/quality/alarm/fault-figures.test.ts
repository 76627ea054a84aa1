import { describe, expect, it } from "vitest";
import { FAULT_KINDS, faultFigures } from "./fault-simulation";

const FAULTS = 8;
/** Of a share of at most 0.05 more than three in eight are late in 4 of 10,000 runs (binomial). */
const MOST_LATE = 3;

describe("faults beyond the edge that matters", () => {
  it.each(FAULT_KINDS.map((kind, place) => [kind.name, kind, place] as const))(
    "are told within 20 frames, trends before the first frame outside: %s",
    (_, kind, place) => {
      const { late, outsideFirst } = faultFigures(kind, FAULTS, 5000 + 100 * place);
      expect(late * FAULTS).toBeLessThanOrEqual(MOST_LATE);
      if (kind.isTrend === true) expect(outsideFirst * FAULTS).toBeLessThanOrEqual(MOST_LATE);
    },
  );
});
