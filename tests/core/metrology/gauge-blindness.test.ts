import { describe, expect, it } from "vitest";
import { CoreError } from "@/lib/core/errors";
import { gaugeSwing, unseenLobes } from "@/lib/core/metrology/gauge-blindness";
import reference from "@/tests/reference/seat-geometry.json";

describe("gaugeSwing", () => {
  it("gives the published swings of two-point and three-point gauges for 10 µm lobes", () => {
    // geometry.json threeJawVisibility (computed there).
    for (const [order, swing] of Object.entries(reference.threeJawVisibility.twoPointSwing_um))
      expect(gaugeSwing({ kind: "two-point" }, Number(order), 10)).toBe(swing);
    for (const [order, swing] of Object.entries(reference.threeJawVisibility.threePointSwing_um))
      expect(gaugeSwing({ kind: "three-point" }, Number(order), 10)).toBe(swing);
  });

  it("lets a sweep see up to the order that its angles can tell", () => {
    expect(gaugeSwing({ kind: "indicator-sweep", angles: 8 }, 2, 10)).toBe(20);
    expect(gaugeSwing({ kind: "indicator-sweep", angles: 8 }, 3, 10)).toBe(0);
    expect(gaugeSwing({ kind: "indicator-sweep", angles: 2 }, 1, 10)).toBe(0);
  });

  it("refuses an order below 1, a fraction and a negative amplitude", () => {
    for (const order of [0, 1.5, NaN]) expect(() => gaugeSwing({ kind: "two-point" }, order, 1)).toThrow(CoreError);
    expect(() => gaugeSwing({ kind: "two-point" }, 2, -1)).toThrow(CoreError);
  });
});

describe("unseenLobes", () => {
  it("names only lobes that are needed and unseen", () => {
    // By definition: two-point size needs none, ovality the 2nd, functional size the 2nd to 7th, coaxiality the 1st.
    expect(unseenLobes("bore", [{ kind: "two-point" }])).toEqual([]);
    expect(unseenLobes("ovality", [{ kind: "two-point" }])).toEqual([]);
    expect(unseenLobes("ovality", [{ kind: "three-point" }])).toEqual([2]);
    expect(unseenLobes("functional size", [{ kind: "two-point" }])).toEqual([3, 5, 7]);
    expect(unseenLobes("functional size", [{ kind: "two-point" }, { kind: "three-point" }])).toEqual([5, 7]);
    expect(unseenLobes("roundness", [{ kind: "indicator-sweep", angles: 24 }])).toEqual([]);
    expect(unseenLobes("coaxiality", [])).toEqual([1]);
  });
});
