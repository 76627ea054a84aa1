import { describe, expect, it } from "vitest";
import { clippedText, judgingReasonText, lackingText, toldCharacteristic } from "@/lib/format/judging-words";
import type { JudgedCharacteristic } from "@/lib/quality/judge-frame";
import type { JudgingReason, ToldValue } from "@/lib/quality/judging-reason";

// The sentences as frames, files and answers have had them since they were first kept: written out here by hand.

const low: ToldValue = { by: "inspection 1", value: 40.9535, unit: "mm", uncertainty: 0.0059 };
const high: ToldValue = { by: "inspection 2", value: 41.05, unit: "mm", uncertainty: 0.0059 };
const disagreement = { code: "disagreement", on: "smallest", lower: low, higher: high } as const;
const DISAGREE =
  "inspections disagree by more than both uncertainties (smallest): inspection 1 40.954 mm (U 0.0059 mm), inspection 2 41.050 mm (U 0.0059 mm)";

const SENTENCES: readonly (readonly [JudgingReason, string])[] = [
  [{ code: "unseen-lobes", lobes: [2] }, "the gauge does not see lobes of order 2"],
  [{ code: "unseen-lobes", lobes: [3, 5] }, "the gauge does not see lobes of orders 3, 5"],
  [{ code: "zero-drifted", why: "BG-1 drifted by 3.5 µm" }, "BG-1 drifted by 3.5 µm"],
  [{ code: "no-gauge" }, "no gauge named"],
  [
    { code: "wrong-gauge", gauge: "BG-1", principle: "indicator", kind: "bore" },
    "gauge BG-1 (indicator) cannot measure a bore",
  ],
  [
    {
      code: "gauge-range",
      gauge: "BG-1",
      rangeMm: { lower: 35, upper: 40 },
      limits: { lower: 40.95, upper: 41 },
    },
    "gauge BG-1 measures 35 to 40 mm and does not reach the limits 40.950 to 41.000 mm",
  ],
  [{ code: "never-checked", gauge: "BG-1" }, "gauge BG-1 was never zero-checked nor calibrated before"],
  [
    { code: "sweep-not-closed", seat: "nds", depthMm: 2, byUm: -40.04, limitUm: 6 },
    "the NDS sweep 2 mm deep does not close by 40.0 µm, at most 6.0 µm: the indicator slipped; sweep again",
  ],
  [
    { code: "sweep-scatters", seat: "ds", depthMm: 8, residualSdUm: 12.25, budgetUm: 3 },
    "the DS sweep 8 mm deep scatters by 12.3 µm where its budget is 3.0 µm: the indicator slipped, or the seat has lobes that these angles do not fit; sweep again, and if it stays so, at 12 angles or more",
  ],
  [
    { code: "reading-rejected", label: "ds.sweep.2@0", byUm: -31, of: "sweep" },
    "reading ds.sweep.2@0 lies 31.0 µm off the others of its sweep: measure that angle again",
  ],
  [
    { code: "reading-rejected", label: "ds.bore.2@12-6", byUm: 31, of: "seat" },
    "reading ds.bore.2@12-6 lies 31.0 µm off the others of its seat: measure that place again",
  ],
  [{ code: "temperature-unknown" }, "the plan asks for the temperature and none was read"],
  [
    { code: "temperature-outside", temperatureC: 33.5, fromC: 15, toC: 25 },
    "the shell was at 33.5 °C, the plan asks for 15 to 25 °C: let it settle and measure again",
  ],
  [
    { code: "other-line", station: "S1", line: "A", frameLine: "B" },
    "measured at station S1 of line A, the frame is of line B: nobody said that it was the right frame",
  ],
  [{ code: "not-estimable" }, "not estimable from these readings"],
  [{ code: "readings-missing", labels: ["a"], isSaid: true }, "reading a could not be taken"],
  [{ code: "readings-missing", labels: ["a", "b"], isSaid: false }, "2 readings are missing, first a"],
  [{ code: "reading-off-scale", label: "a", side: "large" }, "reading a is off the scale, large"],
  [{ code: "gauge-off-scale", label: "a", side: "small" }, "a is off the scale of its gauge, small"],
  [disagreement, DISAGREE],
  [
    { code: "bounds-conflict", least: { ...high, isFelt: false }, most: { ...low, isFelt: true } },
    "inspections contradict each other by more than both uncertainties: inspection 2 41.050 mm (U 0.0059 mm), inspection 1 by plugs or bar at most 40.954 mm (U 0.0059 mm)",
  ],
  [
    { code: "less-than-asked", plan: null, lacking: [{ code: "no-circle", of: { kind: "width" } }] },
    "measured with less than the plan asks for: no width",
  ],
  [
    {
      code: "less-than-asked",
      plan: "plan P1 revision 2",
      lacking: [
        { code: "no-circle", of: { kind: "face", seat: "ds" } },
        { code: "no-trial", label: "bar.A" },
        { code: "no-trial", label: "bar.B" },
      ],
    },
    "measured with less than plan P1 revision 2 asks for: no DS face; and 2 more",
  ],
  [{ code: "asked-not-measured", plan: "plan P1" }, "plan P1 asks for it, and it was not measured"],
  [{ code: "proven", by: "inspection 1", own: null, disagreement: null }, "proven by inspection 1"],
  [{ code: "proven", by: "inspection 1", own: { code: "no-gauge" }, disagreement }, `no gauge named; ${DISAGREE}`],
  [{ code: "trials-missing", labels: ["ds.plug.40.95"] }, "trial ds.plug.40.95 is missing"],
];

describe("why a characteristic is judged as it is", () => {
  it.each(SENTENCES)("%o", (reason, sentence) => {
    expect(judgingReasonText(reason)).toBe(sentence);
  });

  it("says what a needle at its stop cut off", () => {
    expect(clippedText({ readings: 1, atUm: 500, kind: "face" })).toBe(
      "1 reading stands at 500 µm, the end of the indicator’s travel: measure the face again",
    );
    expect(judgingReasonText({ code: "travel-clipped", readings: 3, atUm: 500, kind: "sweep" })).toBe(
      "3 readings stand at 500 µm, the end of the indicator’s travel: sweep again",
    );
  });

  it("says what readings lack of each circle", () => {
    const bore = { kind: "bore", seat: "nds", depthMm: 2 } as const;
    expect(lackingText({ code: "fewer-places", of: bore, measured: 2, asked: 4 })).toBe(
      "2 of 4 directions of the NDS bore at 2 mm",
    );
    expect(lackingText({ code: "farther-apart", of: bore })).toBe(
      "directions of the NDS bore at 2 mm that lie closer together",
    );
    expect(lackingText({ code: "not-closed", of: { ...bore, kind: "sweep" } })).toBe(
      "the closing reading of the NDS sweep at 2 mm",
    );
  });
});

describe("a judged characteristic as it is kept", () => {
  it("has its reasons in words and its fields in their order", () => {
    const judged: JudgedCharacteristic = {
      name: "bore",
      seat: "ds",
      value: 40.975,
      unit: "mm",
      lower: 40.95,
      upper: 41,
      uncertainty: 0.006,
      widenedBy: [
        { code: "step", stepUm: 5 },
        { code: "temperature", temperatureC: 29 },
      ],
      verdict: "not proven",
      critical: true,
      at: null,
      reason: { code: "no-gauge" },
      code: "no-gauge",
    };
    expect(JSON.stringify(toldCharacteristic(judged))).toBe(
      '{"name":"bore","seat":"ds","value":40.975,"unit":"mm","lower":40.95,"upper":41,"uncertainty":0.006,' +
        '"widenedBy":["readings in steps of 5 µm","the shell at 29 °C"],"verdict":"not proven","critical":true,"at":null,' +
        '"reason":"no gauge named","code":"no-gauge"}',
    );
  });
});
