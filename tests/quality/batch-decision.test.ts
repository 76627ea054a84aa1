import { describe, expect, it } from "vitest";
import { toldBatchDecision } from "@/lib/format/batch-words";
import { type BatchCircumstances, decideBatch } from "@/lib/quality/batch-decision";
import { batchEvidence, type FrameEvidence } from "@/lib/quality/batch-evidence";
import { DEFAULT_GATE_POLICY, gatePolicyFrom } from "@/lib/quality/gate-policy";
import type { Verdict } from "@/lib/quality/verdict-words";

// Limits and U of the demonstration drawing press-fit-41 (invented); expectations follow from
// the plant's policy (common practice, no source).

const bore = {
  name: "bore",
  seat: "nds",
  unit: "mm",
  lower: 40.95,
  upper: 41,
  uncertainty: 0.0059,
  critical: true,
} as const;
const ovality = {
  name: "ovality",
  seat: "ds",
  unit: "µm",
  lower: null,
  upper: 40,
  uncertainty: 4.4,
  critical: false,
} as const;

function frame(
  serial: string,
  judged: readonly FrameEvidence["characteristics"][number][],
  notMeasured: string | null = null,
): FrameEvidence {
  const verdict = judged.reduce<Verdict>(
    (worst, { verdict: next }) => (next === "does not conform" || worst === "conforms" ? next : worst),
    "conforms",
  );
  return { serial, verdict, characteristics: judged, notMeasured };
}

const good = (serial: string) => frame(serial, [{ ...bore, value: 40.975, verdict: "conforms" }]);
const decide = (
  frames: readonly FrameEvidence[],
  circumstances: BatchCircumstances = {},
  policy = DEFAULT_GATE_POLICY,
) => toldBatchDecision(decideBatch(batchEvidence("PM-1", frames), policy, circumstances));

describe("decideBatch", () => {
  it("ships a batch of frames that conform", () => {
    expect(decide([good("F1"), good("F2")])).toEqual({ batch: "PM-1", decision: "ship", reasons: [], notes: [] });
  });

  it("gives no frame the reason of another", () => {
    const unproven = (serial: string, reason: string) =>
      frame(serial, [{ ...bore, value: 40.975, verdict: "not proven", reason }]);
    const alike = decide([unproven("F1", "no gauge named"), unproven("F2", "no gauge named")]);
    expect(alike.reasons[0]?.text).toMatch(/2 of 2.*: no gauge named\.$/);
    const apart = decide([unproven("F1", "inspections disagree"), unproven("F2", "no gauge named")]);
    expect(apart.reasons[0]?.text).toMatch(/: F1: inspections disagree; the others for reasons of their own\.$/);
  });

  it("holds for a critical characteristic that does not conform, with the worst value, its frame, limits and U", () => {
    const { decision, reasons } = decide([
      good("F1"),
      frame("F2", [{ ...bore, value: 40.943, verdict: "does not conform" }]),
      frame("F3", [{ ...bore, value: 40.941, verdict: "does not conform" }]),
    ]);
    expect(decision).toBe("hold");
    expect(reasons).toEqual([
      {
        code: "does-not-conform",
        characteristic: "bore",
        seat: "nds",
        text: "Bore of the NDS seat does not conform in 2 of 3 frames: worst 40.941 mm (F3), limits 40.950 to 41.000 mm, U 0.0059 mm.",
        serials: ["F2", "F3"],
      },
    ]);
  });

  it("holds for a critical one that is not proven, informs of another that is not proven", () => {
    const critical = decide([frame("F1", [{ ...bore, value: 40.953, verdict: "not proven" }])]);
    expect(critical.decision).toBe("hold");
    const other = decide([frame("F1", [{ ...ovality, value: 38, verdict: "not proven" }])]);
    expect(other.decision).toBe("ship");
    expect(other.notes).toEqual([
      expect.objectContaining({ code: "not-proven", characteristic: "ovality", serials: ["F1"] }),
    ]);
    expect(decide([frame("F1", [{ ...ovality, value: 48, verdict: "does not conform" }])]).decision).toBe("hold");
  });

  it("holds for a frame that is not completely measured", () => {
    const { decision, reasons } = decide([good("F1"), frame("F2", [], "reading width@3 is missing")]);
    expect(decision).toBe("hold");
    expect(reasons[0]).toMatchObject({ code: "not-measured", serials: ["F2"] });
    expect(reasons[0]?.text).toBe("1 frame of 2 is not completely measured: F2, reading width@3 is missing.");
  });

  it("never holds for a signal alone by default, but does when the plant says so", () => {
    const signals = [{ characteristic: "bore", seat: "ds", text: "Signal on bore.", serials: ["F1"] }] as const;
    const informed = decide([good("F1")], { signals });
    expect([informed.decision, informed.notes.length]).toEqual(["ship", 1]);
    expect(decide([good("F1")], { signals }, gatePolicyFrom({ signal: "hold" })).decision).toBe("hold");
    expect(decide([good("F1")], { signals }, gatePolicyFrom({ signal: "ignore" })).notes).toEqual([]);
  });

  describe("of a sampled batch, the frames that nobody measured", () => {
    const bore = { characteristic: "bore", seat: "ds", limit: 0.01, operation: null } as const;
    const bound = (fraction: number) => ({ ...bore, bound: { ok: true, fraction, frames: 300 } }) as const;
    const sampled = (capability: BatchCircumstances["capability"], isAccepted = false) =>
      decide([good("F1")], {
        ...(capability === undefined ? {} : { capability }),
        unmeasuredBySample: 37,
        sample: { frames: 38, measured: 1, found: [], unmeasured: 37, isAccepted },
      });

    it("are held by a bound over what the drawing allows, and none that was measured is", () => {
      expect(decide([good("F1")], { capability: [bound(0.021)] }).decision).toBe("ship");
      const held = sampled([bound(0.021)]);
      expect([held.decision, held.reasons[0]?.code]).toEqual(["hold", "capability-bound"]);
      // With M of 38 nonconforming one drawn frame conforms in (38 - M) / 38: more than 5 % up to M = 36.
      expect(held.reasons[0]?.text).toBe(
        "Bore of the DS seat: by the last 300 frames up to 2.10 % may not conform (95 % bound), allowed 1.00 %; 37 frames of this batch are not measured. " +
          "0 of 1 measured frame did not conform. Of the 37 frames that nobody measured up to 36 (97 %) may not conform (95 % bound, as if the measured ones were drawn at random).",
      );
      expect(sampled([bound(0.01)]).decision).toBe("ship");
    });

    it("are held by a bound that nobody knows, is being computed, or was not asked", () => {
      const few = sampled([
        { ...bore, bound: { ok: false, because: { code: "too-few-frames", frames: 12, needed: 100 } } },
      ]);
      expect([few.decision, few.reasons[0]?.code]).toEqual(["hold", "capability-unknown"]);
      expect(few.reasons[0]?.text).toContain(
        "The capability of bore of the DS seat is not known yet: 12 of 100 frames; 37 frames of this batch are not measured.",
      );
      expect(sampled([{ ...bore, bound: "being computed" }]).reasons[0]?.text).toContain(
        "is being computed, ask again",
      );
      expect(sampled(undefined)).toMatchObject({ decision: "hold", reasons: [{ code: "capability-unknown" }] });
      expect(sampled([]).decision).toBe("ship");
    });

    it("go where somebody signed for the risk, with the capability told", () => {
      expect(sampled([bound(0.021)], true)).toMatchObject({
        decision: "ship",
        notes: [
          { code: "capability-bound", text: expect.stringContaining("The risk was taken by a signed decision.") },
        ],
      });
    });
  });

  it("holds for a gauge out of order and for readings still on a device", () => {
    const gauge = decide([good("F1")], {
      gauges: [{ gauge: "BG-06", why: "was 15 µm off at its last zero check", serials: ["F1"] }],
    });
    expect(gauge.reasons[0]?.text).toBe("Gauge BG-06 was 15 µm off at its last zero check: 1 frame rests on it (F1).");
    const device = decide([good("F1")], { onDevice: [{ serial: "F2", device: "tablet 3" }] });
    expect(device.decision).toBe("hold");
    expect(device.reasons[0]).toMatchObject({ code: "readings-on-device", serials: ["F2"] });
  });

  it("puts what is proven first, critical before other, most frames before few", () => {
    const { reasons } = decide([
      frame("F1", [{ ...bore, value: 40.953, verdict: "not proven" }]),
      frame("F2", [{ ...ovality, value: 60, verdict: "does not conform" }]),
      frame("F3", [{ ...bore, value: 40.94, verdict: "does not conform" }]),
    ]);
    expect(reasons.map(({ code, characteristic }) => [code, characteristic])).toEqual([
      ["does-not-conform", "bore"],
      ["does-not-conform", "ovality"],
      ["not-proven", "bore"],
    ]);
  });

  it("takes the value furthest beyond a limit for the worst, taper by its size", () => {
    const taper = {
      name: "taper",
      seat: "ds",
      unit: "µm",
      lower: null,
      upper: 10,
      uncertainty: 2.2,
      critical: false,
      verdict: "does not conform",
    } as const;
    const evidence = batchEvidence("B", [
      frame("F1", [{ ...taper, value: 13 }]),
      frame("F2", [{ ...taper, value: -18 }]),
      frame("F3", [{ ...taper, value: 14 }]),
    ]);
    expect(evidence.findings[0]?.worst).toMatchObject({ serial: "F2", value: -18 });
  });
});
