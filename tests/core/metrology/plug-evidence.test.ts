import { describe, expect, it } from "vitest";
import { CoreError } from "@/lib/core/errors";
import { USUAL_GAUGE_BAR_SET } from "@/lib/core/metrology/gauge-bar";
import { barEvidence, plugEvidence } from "@/lib/core/metrology/plug-evidence";

const LIMITS = { lowerMm: 40.95, upperMm: 41 };
const bore = (smallestMm: number) => ({ smallestMm, uncertaintyMm: 0.0059 });

// Source of every case: common practice of the trade, no published source.
describe("plugEvidence on the cases of common practice", () => {
  const good = [
    { sizeMm: 40.85, feel: "slides" },
    { sizeMm: 40.95, feel: "hand" },
  ] as const;

  it("finds nothing wrong where 40.85 slides and 40.95 enters by hand pressure, whatever conforming size was read", () => {
    for (const smallest of [40.95, 40.975, 41]) expect(plugEvidence(good, bore(smallest), LIMITS).findings).toEqual([]);
    const { bounds } = plugEvidence(good, null, LIMITS);
    expect(bounds.leastMm).toBeCloseTo(40.948, 9);
    expect(bounds.mostMm).toBeCloseTo(41.01, 9);
    expect(bounds.leastBy?.sizeMm).toBe(40.95);
  });

  it("says marginally small where 40.85 slides and 40.95 does not go in by hand", () => {
    const { findings } = plugEvidence(
      [
        { sizeMm: 40.85, feel: "slides" },
        { sizeMm: 40.95, feel: "no" },
      ],
      bore(40.94),
      LIMITS,
    );
    expect(findings).toEqual([{ code: "seat-small", mostMm: 40.95, limitMm: 40.95, marginal: true }]);
  });

  it("says small without marginal where nothing slides", () => {
    const { findings } = plugEvidence([{ sizeMm: 40.85, feel: "no" }], null, LIMITS);
    expect(findings).toMatchObject([{ code: "seat-small", marginal: false }]);
  });

  it("says large where a plug over the limit slides", () => {
    expect(plugEvidence([{ sizeMm: 41.02, feel: "slides" }], null, LIMITS).findings).toMatchObject([
      { code: "seat-large" },
    ]);
  });
});

describe("plugEvidence against the bore readings", () => {
  it("reports a gauge problem where a plug went in that the readings forbid, beyond both uncertainties", () => {
    const trials = [{ sizeMm: 40.95, feel: "slides" }] as const;
    // Both uncertainties: 5.9 + 2 µm. 40.943 is 7 µm short, 40.940 is 10 µm short.
    expect(plugEvidence(trials, bore(40.943)).findings).toEqual([]);
    expect(plugEvidence(trials, bore(40.94)).findings).toMatchObject([
      { code: "gauge-problem", side: "bore-too-small", oddLobesPossible: false },
    ]);
  });

  it("reports a gauge problem, with odd lobes as the other cause, where a plug did not go into a bore read as larger", () => {
    const [finding] = plugEvidence([{ sizeMm: 40.95, feel: "no" }], bore(40.975)).findings;
    expect(finding).toMatchObject({ code: "gauge-problem", side: "bore-too-large", oddLobesPossible: true });
    // By hand: 25 - 5.9 - 2 = 17.1 µm beyond.
    expect(finding?.code === "gauge-problem" && finding.beyondUm).toBeCloseTo(17.1, 6);
  });

  it("reports plugs that contradict each other", () => {
    const trials = [
      { sizeMm: 40.85, feel: "no" },
      { sizeMm: 40.95, feel: "slides" },
    ] as const;
    expect(plugEvidence(trials, null).findings[0]?.code).toBe("plugs-contradict");
  });

  it("bounds nothing without a trial, and refuses NaN and sizes below zero", () => {
    expect(plugEvidence([], bore(40.97)).bounds).toMatchObject({ leastMm: null, mostMm: null });
    expect(() => plugEvidence([{ sizeMm: NaN, feel: "no" }], null)).toThrow(CoreError);
    expect(() => plugEvidence([{ sizeMm: -1, feel: "no" }], null)).toThrow(CoreError);
    expect(() => plugEvidence([], { smallestMm: NaN, uncertaintyMm: 0.006 })).toThrow(CoreError);
  });
});

describe("barEvidence", () => {
  const tilt = (arcmin: number) => ({ arcmin, uncertaintyArcmin: 1 });

  it("calls seats in line, slightly out, or to be rejected as the bar turns, is stiff, or does not pass", () => {
    expect(barEvidence("free", USUAL_GAUGE_BAR_SET, tilt(1))).toMatchObject([{ code: "bar-in-line" }]);
    expect(barEvidence("stiff", USUAL_GAUGE_BAR_SET, tilt(5))).toMatchObject([{ code: "bar-slightly-out" }]);
    expect(barEvidence("will not pass", USUAL_GAUGE_BAR_SET, tilt(7))).toMatchObject([{ code: "bar-reject" }]);
  });

  it("reports a gauge problem where bar and measured tilt contradict beyond both uncertainties", () => {
    // Free up to 15 µm / 12 mm = 4.297'; no passage from 20 µm / 12 mm = 5.730' on.
    expect(barEvidence("free", USUAL_GAUGE_BAR_SET, tilt(5.2))).toHaveLength(1);
    expect(barEvidence("free", USUAL_GAUGE_BAR_SET, tilt(6))).toMatchObject([
      {},
      { code: "gauge-problem", tiltArcmin: 6 },
    ]);
    expect(barEvidence("will not pass", USUAL_GAUGE_BAR_SET, tilt(2))).toMatchObject([{}, { code: "gauge-problem" }]);
    expect(barEvidence("stiff", USUAL_GAUGE_BAR_SET, null)).toHaveLength(1);
  });

  it("refuses NaN", () => {
    expect(() => barEvidence("free", USUAL_GAUGE_BAR_SET, tilt(NaN))).toThrow(CoreError);
  });
});
