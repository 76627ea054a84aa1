import { describe, expect, it } from "vitest";
import { layoutDeviationBar, type DeviationBarInput } from "@/lib/charts/deviation-bar";
import { expectDigits } from "../helpers/expect-digits";

const seat: DeviationBarInput = {
  lower: 40.95,
  upper: 41,
  target: null,
  unit: "mm",
  guard: 0.0059,
  value: 40.968,
  kept: [],
  widthPx: 432,
};

// Limits and uncertainty of the demonstration drawing press-fit 41; positions follow from proportion by hand.
describe("the deviation bar", () => {
  it("sets limits at equal distances from the middle and says their deviations", () => {
    const bar = layoutDeviationBar(seat);
    expectDigits((bar.limits[0]?.x ?? 0) + (bar.limits[1]?.x ?? 0), 432, 9);
    expect(bar.limits.map((limit) => limit.deviationText)).toEqual(["\u221225\u00a0µm", "+25\u00a0µm"]);
    expect(bar.target?.text).toBe("40.975");
  });
  it("hatches the guard band on both sides of each limit", () => {
    const { zones, limits } = layoutDeviationBar(seat);
    zones.forEach((zone, index) => expectDigits(zone.x + zone.width / 2, limits[index]?.x ?? 0, 9));
    expect(layoutDeviationBar({ ...seat, guard: 0 }).zones).toEqual([]);
  });
  it("places the value by proportion and keeps what is beyond the bar at its end", () => {
    const bar = layoutDeviationBar(seat);
    const [lower, upper] = bar.limits;
    const share = ((bar.value?.x ?? 0) - (lower?.x ?? 0)) / ((upper?.x ?? 0) - (lower?.x ?? 0));
    expectDigits(share, 0.36, 8); // (40.968 - 40.950) / 0.050
    expect(layoutDeviationBar({ ...seat, value: 44 }).value).toEqual({ x: 426, beyond: "right" });
    expect(layoutDeviationBar({ ...seat, value: 3 }).value?.beyond).toBe("left");
    expect(layoutDeviationBar({ ...seat, value: null }).value).toBeNull();
  });
  it("measures from a target that is not the middle", () => {
    const bar = layoutDeviationBar({ ...seat, target: 40.98 });
    expect(bar.limits.map((limit) => limit.deviationText)).toEqual(["\u221230\u00a0µm", "+20\u00a0µm"]);
  });
  it("has one limit and starts at zero for form and position", () => {
    const bar = layoutDeviationBar({ ...seat, lower: null, upper: 40, unit: "µm", guard: 4.4, value: 0 });
    expect(bar.limits).toHaveLength(1);
    expect(bar.target).toBeNull();
    expect(bar.value?.beyond).toBeNull();
    expect(bar.limits[0]?.valueText).toBe("40.0\u00a0µm");
  });
});
