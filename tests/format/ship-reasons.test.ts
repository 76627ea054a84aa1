import { describe, expect, it } from "vitest";
import { shipReasonText } from "@/lib/format/ship-reasons";
import { toldShipAnswer } from "@/lib/format/ship-words";
import { shipAnswer } from "@/lib/quality/ship-answer";

const now = new Date("2026-06-03T10:00:00Z");
const judged = {
  unit: "mm",
  lower: 40.95,
  upper: 41,
  uncertainty: 0.0059,
  critical: true,
  at: null,
  name: "bore",
} as const;

describe("what the dock reads of a stop", () => {
  it("has one line a finding, without the explanation in brackets", () => {
    const frame = {
      serial: "F-1",
      state: "held" as const,
      verdict: "does not conform" as const,
      leaseDeviceId: null,
      concessionUntil: null,
      shippedAt: null,
      reasons: [
        { ...judged, seat: "ds" as const, value: 41.05, verdict: "does not conform" as const },
        {
          ...judged,
          seat: "nds" as const,
          value: 40.975,
          verdict: "not proven" as const,
          reason: "the sweep slipped; sweep again (twice)",
        },
        { ...judged, seat: null, value: 40.975, verdict: "not measured" as const, reason: "reading a.b is missing" },
      ],
    };
    const counts = { frames: 4, asked: 4, missing: 0, measured: 4, isDrawn: true, bySample: false, found: 0 };
    const batch = {
      key: "B-1",
      heldAt: null,
      ...counts,
      isRiskTaken: false,
      capability: [],
      lot: null,
      isPlanKept: true,
    };
    const [first] = toldShipAnswer(shipAnswer("F-1", frame, batch, now), String).reasons;
    expect(shipReasonText(first?.text ?? "")).toEqual({
      title: "It is held: its own readings are against it",
      details: [
        "Bore of the DS seat does not conform, 41.050 mm, limits 40.950 to 41.000 mm",
        "Bore of the NDS seat is not proven, 40.975 mm, limits 40.950 to 41.000 mm",
        "Bore was not measured",
      ],
    });
  });

  it("leaves every other reason as it is", () => {
    expect(shipReasonText("It has not been measured.")).toEqual({ title: "It has not been measured.", details: [] });
  });
});
