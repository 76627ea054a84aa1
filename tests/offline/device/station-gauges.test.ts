import { describe, expect, it } from "vitest";
import { calibratedUntilText, gaugeDoubtText, isOverdue } from "@/lib/offline/device/station-gauges";
import type { StationGauge } from "@/lib/schemas/station-package";
import { stationKit } from "../station-server";

// Moments by hand: New York is five hours behind UTC in winter, so that its 20 January ends at 5:00 UTC of the 21st.
const NEW_YORK = "America/New_York";
const DUE = Date.parse("2026-01-21T04:59:59.999Z");
const bore = (): StationGauge => {
  const gauge = stationKit(1).gauges.find(({ kind }) => kind === "bore");
  if (!gauge) throw new Error("the kit has no bore gauge");
  return { ...gauge, calibrations: [{ atMs: Date.parse("2025-07-01T04:00:00Z"), dueMs: DUE }] };
};

describe("the calibration of a gauge on a device", () => {
  it("is told by the plant's days", () => {
    expect(calibratedUntilText(bore(), DUE, { zone: NEW_YORK })).toBe("2026-01-20");
    expect(gaugeDoubtText(bore(), DUE + 1, { decimal: ".", zone: NEW_YORK })).toBe(
      "its calibration ran out on 2026-01-20",
    );
    expect(gaugeDoubtText(bore(), DUE, { decimal: ".", zone: NEW_YORK })).toBe(null);
  });

  it("goes by the moment of the reading, not by what holds when the kit was fetched", () => {
    const renewed: StationGauge = {
      ...bore(),
      calibratedUntil: "2027-01-01T00:00:00.000Z",
      calibrations: [
        { atMs: DUE + 86_400_000, dueMs: Date.parse("2027-01-01T00:00:00Z") },
        ...(bore().calibrations ?? []),
      ],
    };
    expect([DUE, DUE + 1, DUE + 86_400_000].map((ms) => isOverdue(renewed, ms))).toEqual([false, true, false]);
    expect(isOverdue(renewed, Date.parse("2025-01-01T00:00:00Z"))).toBe(true);
  });

  it("goes by the day that an older kit names, where it has no calibrations", () => {
    const { calibrations: _none, ...older } = bore();
    const until = { ...older, calibratedUntil: "2026-01-21T04:59:59.999Z" };
    expect([DUE, DUE + 1].map((ms) => isOverdue(until, ms))).toEqual([false, true]);
    expect(gaugeDoubtText({ ...older, calibratedUntil: null }, DUE, { decimal: ".", zone: NEW_YORK })).toBe(
      "it was never calibrated",
    );
  });
});
