import { describe, expect, it } from "vitest";
import { type ReasonedCharacteristic, briefReason, verdictReason, verdictTitle } from "@/lib/format/verdict-reasons";

const nbsp = "\u00a0";
const options = { decisionRule: "guard-u", side: "ds" } as const;

const coaxiality: ReasonedCharacteristic = {
  name: "coaxiality",
  seat: "nds",
  value: 129,
  unit: "µm",
  lower: null,
  upper: 100,
  uncertainty: 14,
  verdict: "does not conform",
  at: null,
};

const bore: ReasonedCharacteristic = {
  name: "bore",
  seat: "nds",
  value: 40.953,
  unit: "mm",
  lower: 40.95,
  upper: 41,
  uncertainty: 0.0059,
  verdict: "not proven",
  at: "nds.bore.9@1:30-7:30",
};

// Wording of the two reasons on the verdict board.
describe("verdictReason", () => {
  it("says by how much a limit is passed and that it is proven", () => {
    expect(verdictTitle(coaxiality)).toBe(`Coaxiality ø${nbsp}0.129${nbsp}mm`);
    expect(verdictReason(coaxiality, options)).toBe(
      `29${nbsp}µm over the limit, more than the uncertainty of ±14${nbsp}µm: proven.`,
    );
  });

  it("says where a size lies and why it is not proven", () => {
    expect(verdictTitle(bore)).toBe(`NDS size 40.953${nbsp}mm`);
    expect(verdictReason(bore, options)).toBe(
      `At 9${nbsp}mm, 1:30–7:30. Only 3${nbsp}µm inside the lower limit, uncertainty is ±5.9${nbsp}µm: not proven.`,
    );
  });

  it("mirrors the clock when seen from the non-drive side and writes the decimal comma", () => {
    expect(verdictReason(bore, { ...options, side: "nds", decimal: "," })).toBe(
      `At 9${nbsp}mm, 10:30–4:30. Only 3${nbsp}µm inside the lower limit, uncertainty is ±5,9${nbsp}µm: not proven.`,
    );
  });

  it("names the side of a limit that is passed by less than U", () => {
    expect(verdictReason({ ...bore, value: 40.946, at: null }, options)).toBe(
      `4${nbsp}µm under the lower limit, less than the uncertainty of ±5.9${nbsp}µm: not proven.`,
    );
    expect(verdictReason({ ...bore, value: 41, at: null }, options)).toBe(
      `Just at the upper limit, uncertainty is ±5.9${nbsp}µm: not proven.`,
    );
  });

  it("keeps two numbers apart that round to the same", () => {
    expect(verdictReason({ ...bore, value: 40.95587, at: null }, options)).toBe(
      `Only 5.87${nbsp}µm inside the lower limit, uncertainty is ±5.90${nbsp}µm: not proven.`,
    );
  });

  it("says that it conforms, with the margin", () => {
    expect(
      verdictReason(
        {
          ...coaxiality,
          name: "tilt",
          seat: "ds",
          unit: "arcmin",
          value: 2.25,
          upper: 4,
          uncertainty: 1,
          verdict: "conforms",
        },
        options,
      ),
    ).toBe("1.8′ inside the limit, more than the uncertainty of ±1′: conforms.");
  });

  it("says as much as where a value lies exactly at the edge of a zone", () => {
    expect(verdictReason({ ...bore, value: 40.9559, verdict: "conforms", at: null }, options)).toBe(
      `5.9${nbsp}µm inside the lower limit, as much as the uncertainty of ±5.9${nbsp}µm: conforms.`,
    );
    expect(verdictReason({ ...bore, value: 41.0059, at: null }, options)).toBe(
      `5.9${nbsp}µm over the upper limit, as much as the uncertainty of ±5.9${nbsp}µm: not proven.`,
    );
  });

  it("judges taper on its size and shows it signed", () => {
    const taper = { ...coaxiality, name: "taper", seat: "ds", value: -12.6, upper: 10, uncertainty: 2.2 } as const;
    expect(verdictTitle(taper)).toBe(`DS taper −12.6${nbsp}µm`);
    expect(verdictReason(taper, options)).toBe(
      `2.6${nbsp}µm over the limit, more than the uncertainty of ±2.2${nbsp}µm: proven.`,
    );
  });

  it("says what the other decision rules compare with", () => {
    expect(verdictReason(coaxiality, { ...options, decisionRule: "guard-1.65uc" })).toBe(
      `29${nbsp}µm over the limit, more than the guard band of ±12${nbsp}µm: proven.`,
    );
    expect(
      verdictReason(
        { ...bore, value: 40.949, verdict: "does not conform", at: null },
        { ...options, decisionRule: "simple" },
      ),
    ).toBe(`1${nbsp}µm under the lower limit; no guard band, uncertainty is ±5.9${nbsp}µm: does not conform.`);
  });

  it("gives the reason of a missing reading and of a doubt", () => {
    const missing = { ...bore, verdict: "not measured", reason: "reading nds.bore.9@1:30-7:30 is missing" } as const;
    expect(verdictReason(missing, options)).toBe(
      "Not measured: reading “NDS seat, 1:30–7:30, 9\u00a0mm deep” is missing.",
    );
    expect(verdictTitle(missing)).toBe("NDS size not measured");
    const several = { ...missing, reason: "2 readings are missing, first nds.sweep.8@360" };
    expect(verdictReason(several, { ...options, decimal: "," })).toBe(
      "Not measured: 2 readings are missing, first “NDS sweep at 12\u00a0o’clock, 8\u00a0mm deep, closing”.",
    );
    const doubted = { ...missing, verdict: "not proven", reason: "BG-1 drifted by 3.5 µm (ring R-41)" } as const;
    expect(verdictReason(doubted, options)).toBe("Not proven: BG-1 drifted by 3.5 µm (ring R-41).");
    expect(verdictReason({ ...bore, reason: "the gauge does not see lobes of order 2" }, options)).toBe(
      "Not proven: the gauge does not see lobes of order 2.",
    );
    expect(verdictTitle({ ...bore, value: null })).toBe("NDS size not measured");
  });

  it("heads a size off the scale and a doubt by what was found", () => {
    const reason = "nds.bore.2@12-6 is off the scale of its gauge, large";
    expect(verdictTitle({ ...bore, value: null, verdict: "does not conform", reason })).toBe(
      "NDS size off the scale, large",
    );
    const disagree = "inspections disagree by more than both uncertainties (smallest): inspection 1 40.975 mm";
    expect(briefReason(disagree, options)).toBe("inspections disagree by more than both uncertainties");
    expect(briefReason("reading nds.bore.9@1:30-7:30 is missing", options)).toBe(
      "reading “NDS seat, 1:30–7:30, 9\u00a0mm deep” is missing",
    );
  });

  it("says where an oval, a centre and a face stand", () => {
    expect(verdictReason({ ...coaxiality, at: "4" }, options)).toMatch(/^Off towards 4\u00a0o’clock\. /);
    expect(verdictReason({ ...coaxiality, name: "ovality", at: "1:30-7:30" }, { ...options, side: "nds" })).toMatch(
      /^Largest at 10:30–4:30\. /,
    );
    expect(verdictReason({ ...coaxiality, name: "face run-out", at: "4:30" }, options)).toMatch(
      /^High side at 4:30\. /,
    );
    expect(verdictReason({ ...bore, name: "width", seat: null, at: "width@3" }, options)).toMatch(
      /^At 3\u00a0o’clock\. /,
    );
  });
});
