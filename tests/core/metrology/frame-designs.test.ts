import { describe, expect, it } from "vitest";
import { coverageOf, designFrame } from "@/lib/core/metrology/frame-designs";
import { fullPlan } from "@/lib/core/metrology/measuring-plan";
import { CHARACTERISTIC_NAMES } from "@/lib/core/metrology/shell-drawing";
import { DEMONSTRATION_DRAWINGS } from "@/lib/quality/demonstration-drawings";

describe("coverageOf", () => {
  const [drawing] = DEMONSTRATION_DRAWINGS;
  if (drawing === undefined) throw new Error("there is no demonstration drawing");

  it("says of every characteristic from which readings it comes, so that none is left unread", () => {
    const names = fullPlan(drawing);
    const coverage = coverageOf(designFrame(names, drawing));
    expect([...new Set(coverage.map(({ name }) => name))]).toEqual([...CHARACTERISTIC_NAMES]);
    for (const { name, indices, reason } of coverage) {
      expect(reason, name).toBeNull();
      expect(indices.length, name).toBeGreaterThan(0);
    }
  });

  it("says why a plan without readings gives none of them", () => {
    const coverage = coverageOf(designFrame([], drawing));
    expect([...new Set(coverage.map(({ name }) => name))]).toEqual([...CHARACTERISTIC_NAMES]);
    expect(coverage.every(({ reason, indices }) => reason !== null && indices.length === 0)).toBe(true);
  });
});
