import { describe, expect, it } from "vitest";
import { zeroCheckChart } from "@/lib/charts/zero-check-chart";
import { gaugeHeadline, gaugeReasonText, gaugeStateStops } from "@/lib/format/gauge-words";
import { GAUGE_STATES, gaugeState, type GaugeStanding } from "@/lib/quality/gauge-state";

const DAY = 86_400_000;
const NOW = Date.parse("2026-11-30T10:00:00Z");
const calibration = (from: number, until: number) => ({ atMs: NOW + from * DAY, dueMs: NOW + until * DAY });
const good: GaugeStanding = {
  isInUse: true,
  calibrations: [calibration(-100, 200)],
  openDoubt: null,
  ring: { key: "RG-41-1", isInUse: true },
};
const doubt = { zeroErrorUm: -15, limitUm: 3, foundMs: NOW - 1000, afterMs: NOW - DAY };
/** Numbers and units are held together by a space that does not break. */
const plain = (text: string) => text.replaceAll("\u00a0", " ");
const stateOf = (change: Partial<GaugeStanding>) => gaugeState({ ...good, ...change }, NOW).state;

// By the rules of the register: the newest calibration made decides, a failed check puts in doubt.
describe("gaugeState", () => {
  it("follows from the evidence", () => {
    expect(gaugeState(good, NOW)).toEqual({ state: "in-use", reasons: [] });
    expect(stateOf({ openDoubt: doubt })).toBe("in-doubt");
    expect(stateOf({ calibrations: [] })).toBe("quarantined");
    expect(stateOf({ ring: { key: "RG-41-1", isInUse: false } })).toBe("quarantined");
    expect(stateOf({ ring: null })).toBe("in-use");
    expect(stateOf({ isInUse: false, openDoubt: doubt, calibrations: [] })).toBe("retired");
  });

  it("goes by the newest calibration, also where it shortens the interval or was mistyped", () => {
    expect(stateOf({ calibrations: [calibration(-10, -1), calibration(-100, 200)] })).toBe("quarantined");
    expect(stateOf({ calibrations: [calibration(-100, -1)] })).toBe("quarantined");
    expect(stateOf({ calibrations: [calibration(-100, 0)] })).toBe("in-use");
    // One that is entered for a day to come does not count yet.
    expect(stateOf({ calibrations: [calibration(1, 300)] })).toBe("quarantined");
  });

  it("gives the gravest reason first and tells each", () => {
    const { reasons } = gaugeState({ ...good, calibrations: [calibration(-100, -1)], openDoubt: doubt }, NOW);
    expect(reasons.map(({ code }) => code)).toEqual(["calibration-over", "zero-failed"]);
    expect(gaugeHeadline("BG-06", "quarantined", reasons, "UTC")).toBe(
      "BG-06 is quarantined: its calibration ended on 2026-11-29",
    );
    expect(plain(gaugeReasonText({ code: "zero-failed", ...doubt }, "UTC"))).toContain(
      "15.0 µm too small, and the limit is 3.00 µm",
    );
    expect(plain(gaugeHeadline("BG-06", "in-doubt", [{ code: "zero-failed", ...doubt }], "UTC"))).toBe(
      "BG-06 is in doubt: it reads 15.0 µm too small",
    );
    expect(new Set(GAUGE_STATES.map(gaugeStateStops)).size).toBe(GAUGE_STATES.length);
  });
});

describe("zeroCheckChart", () => {
  const chart = zeroCheckChart({
    checks: [
      { atMs: NOW - 10 * DAY, driftUm: 0.5, limitUm: 3, text: "a" },
      { atMs: NOW - DAY, driftUm: -4.5, limitUm: 3, text: "b" },
    ],
    calibrations: [{ atMs: NOW - 20 * DAY, biasUm: null }],
    doubts: [{ afterMs: NOW - 10 * DAY, untilMs: null }],
    limitUm: 3,
    nowMs: NOW,
    zone: "UTC",
  });

  it("draws checks on days from the first record, the limit on both sides, and what is in doubt until now", () => {
    const [checks, failed, calibrations] = chart.series;
    expect(checks?.x).toEqual([10, 19]);
    expect(failed?.x).toEqual([19]);
    // A certificate that states no bias is an event, not a point.
    expect(calibrations?.x).toEqual([]);
    expect(chart.events).toEqual([{ at: 0, text: "calibrated" }]);
    expect(chart.levels.map(({ value }) => value)).toEqual([3, 0, -3]);
    expect(chart.bands).toMatchObject([{ kind: "not proven", fromX: 10, toX: 20 }]);
    expect(chart.yMin).toBeLessThan(-4.5);
    expect(chart.yMax).toBeGreaterThan(3);
  });

  it("is a chart also without a check, and with everything at one moment", () => {
    const empty = zeroCheckChart({ checks: [], calibrations: [], doubts: [], limitUm: 3, nowMs: NOW, zone: "UTC" });
    expect(empty.xMax).toBeGreaterThan(empty.xMin);
    expect(JSON.stringify(empty)).not.toContain("null,null,null");
  });
});
