import { describe, expect, it } from "vitest";
import { compileMeasurement, type MeasuringOptions } from "@/lib/core/metrology/measure-frame";
import { fullPlan } from "@/lib/core/metrology/measuring-plan";
import { formatReadingName, type ReadingName } from "@/lib/core/metrology/reading-name";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { toldJudgement } from "@/lib/format/judging-words";
import { PRESS_FIT_41, PRESS_FIT_46 } from "@/lib/quality/demonstration-drawings";
import type { InspectionEvidence } from "@/lib/quality/inspection-evidence";
import { judgeInspection } from "@/lib/quality/judge-inspection";
import { expectDigits } from "@/tests/helpers/expect-digits";

const RAD = Math.PI / 180;

type Shell = {
  readonly offsetUm: number;
  readonly boreMm: number;
  readonly ovalUm?: number;
  readonly threeLobesUm?: number;
};

/** A shell as a gauge shows it: readings by the truth, a noise of 1 µm for sweeps, another zero for every sweep. */
function read(names: readonly ReadingName[], { offsetUm, boreMm, ovalUm = 0, threeLobesUm = 0 }: Shell): number[] {
  const random = createSeededGenerator(9);
  return names.map((name) => {
    if (name.kind === "bore") return boreMm + (ovalUm / 2000) * Math.cos(2 * (name.directionDeg - 45) * RAD);
    if (name.kind === "width") return 86.5;
    if (name.kind !== "sweep") return 0;
    const angle = name.angleDeg * RAD;
    const form = threeLobesUm * -Math.cos(3 * angle) + (ovalUm / 4) * Math.cos(2 * (angle - 45 * RAD));
    return Math.round(2 * (20 + offsetUm * Math.cos(angle) + form + random.normal())) / 2;
  });
}

function judged(
  names: readonly ReadingName[],
  readings: readonly (number | null)[],
  { options = {}, ...more }: Partial<InspectionEvidence> & { readonly options?: MeasuringOptions } = {},
) {
  const drawing = more.drawing ?? PRESS_FIT_41;
  const { judgement } = judgeInspection({
    key: "1",
    label: "the inspection",
    drawing,
    compiled: compileMeasurement(names, drawing, options),
    readings,
    offScale: [],
    felt: null,
    temperatureC: null,
    doubts: [],
    planCounts: true,
    ...more,
  });
  return toldJudgement(judgement);
}

const full = fullPlan(PRESS_FIT_41);
const labels = full.map(formatReadingName);
const of = (judgement: ReturnType<typeof judged>, name: string, seat: string | null = "nds") =>
  judgement.characteristics.find((one) => one.name === name && one.seat === seat);
const changed = (readings: readonly number[], change: (label: string) => number): number[] =>
  readings.map((value, i) => value + change(labels[i] ?? ""));
const slipFrom = (label: string, fromDeg: number): boolean =>
  label.startsWith("nds.sweep") && Number(label.split("@")[1]) >= fromDeg;

describe("an indicator that slips", () => {
  it("does not pass a shell that is off by 65 µm for one that conforms", () => {
    const truth = read(full, { offsetUm: 65, boreMm: 40.975 });
    expect(of(judged(full, truth), "coaxiality")?.verdict).toBe("does not conform");
    // A slip of 60 from 90 degrees on takes 26 µm off towards 12 (numpy): the zone of 130 reads 82.
    const slipped = judged(
      full,
      changed(truth, (label) => (slipFrom(label, 90) ? 60 : 0)),
    );
    expect(of(slipped, "coaxiality")?.value).toBeLessThan(88);
    expect(of(slipped, "coaxiality")).toMatchObject({ verdict: "not proven", code: "sweep-irregular" });
    expect(of(slipped, "coaxiality")?.reason).toMatch(
      /scatters by [\d.]+ µm where its budget is [\d.]+ µm: .* sweep again/,
    );
    expect(slipped.holdsFrame).toBe(true);
  });

  it("does not condemn a good shell, and takes nothing back that fails whatever slipped", () => {
    const slip = (offsetUm: number) =>
      of(
        judged(
          full,
          changed(read(full, { offsetUm, boreMm: 40.975 }), (label) => (slipFrom(label, 180) ? 40 : 0)),
        ),
        "coaxiality",
      )?.verdict;
    expect(slip(-40)).toBe("not proven");
    expect(slip(-300)).toBe("does not conform");
  });

  it("shows by the closing reading where the residuals cannot: four angles, half of them slipped", () => {
    const names: ReadingName[] = [2, 8].flatMap((depthMm) =>
      [0, 90, 180, 270, 360].map((angleDeg): ReadingName => ({ kind: "sweep", seat: "nds", depthMm, angleDeg })),
    );
    const close = (closing: number) => judged(names, [0, 0, 40, 40, closing, 0, 1, 0, 1, 0]);
    expect(of(close(40), "coaxiality")).toMatchObject({ verdict: "not proven", code: "sweep-not-closed" });
    expect(of(close(40), "coaxiality")?.reason).toContain("does not close by 40.0 µm");
    expect(of(close(2), "coaxiality")?.code).toBeUndefined();
  });
});

describe("one wrong reading", () => {
  const burr = (offsetUm: number, byUm: number) =>
    of(
      judged(
        full,
        changed(read(full, { offsetUm, boreMm: 40.975 }), (label) => (label === "nds.sweep.8@0" ? byUm : 0)),
      ),
      "coaxiality",
    );

  it("of a sweep on which the failure hangs is taken again, by its name", () => {
    // 52 + 100 / 4 = 77 µm, zone 154, where the shell has 104.
    expect(burr(52, 100)).toMatchObject({ verdict: "not proven", code: "reading-rejected" });
    expect(burr(52, 100)?.reason).toMatch(/reading nds\.sweep\.8@0 lies .* measure that angle again/);
  });

  it("takes nothing back from a shell that fails without it", () => {
    expect(burr(90, 100)?.verdict).toBe("does not conform");
  });

  it("of the diameters leaves the size a failure, but not the ovality that hangs on it", () => {
    const readings = changed(read(full, { offsetUm: 0, boreMm: 40.975 }), (label) =>
      label === "ds.bore.2@12-6" ? -0.06 : 0,
    );
    const judgement = judged(full, readings);
    expect(of(judgement, "bore", "ds")?.verdict).toBe("does not conform");
    expect(of(judgement, "ovality", "ds")).toMatchObject({ verdict: "not proven", code: "reading-rejected" });
  });
});

describe("an oval between the directions", () => {
  const three = full
    .filter((name) => name.kind === "bore" && name.directionDeg === 0)
    .flatMap((name) => [0, 60, 120].map((directionDeg) => ({ ...name, directionDeg }) as ReadingName));
  const two = full.filter((name) => name.kind === "bore" && name.directionDeg % 90 === 0);
  // Smallest true size 40.970 - 0.012: 40.958 at 135 degrees; what 0 and 90 degrees show is 40.970.
  const shell = { offsetUm: 0, boreMm: 40.954, ovalUm: 24 };

  it("is judged by the computed sizes of three directions", () => {
    const bore = of(judged(three, read(three, shell)), "bore", "ds");
    // 40.954 - 0.012 and + 0.012, by hand; of the square of 12 µm the mean noise of three readings, 4 / 3 x 1.5^2 = 3 µm^2, is off.
    const swingMm = Math.sqrt(12 ** 2 - 3) / 1000;
    expectDigits(bore?.smallest ?? NaN, 40.954 - swingMm, 9);
    expectDigits(bore?.largest ?? NaN, 40.954 + swingMm, 9);
    expect(bore).toMatchObject({ verdict: "does not conform", at: "ds.bore.2@4:30-10:30" });
  });

  it("keeps two directions from proving what they do not see", () => {
    const readings = read(two, { ...shell, boreMm: 40.96 });
    const bore = of(judged(two, readings), "bore", "ds");
    // Read 40.960, 10 µm inside; true 40.948.
    expect(bore).toMatchObject({ verdict: "not proven" });
    expect(bore?.uncertainty).toBeGreaterThan(0.0119);
  });

  it("leaves four directions as they are", () => {
    expect(of(judged(full, read(full, shell)), "bore", "ds")?.uncertainty).toBe(0.0059);
  });
});

describe("the temperature", () => {
  const warm = (temperatureC: number | null, boreMm: number, options: MeasuringOptions = {}) =>
    of(
      judged(full, read(full, { offsetUm: 0, boreMm }), { drawing: PRESS_FIT_46, temperatureC, options }),
      "bore",
      "ds",
    );

  it("keeps an aluminium shell at 38 °C from conforming, and shows its size at 20 °C", () => {
    // True 45.944; 46 mm grow by 1.0856 µm a kelvin (23.6e-6 per kelvin, aluminium), 19.5 µm over 18 K.
    const bore = warm(38, 45.963);
    expect(bore).toMatchObject({ verdict: "not proven", code: "temperature" });
    expect(bore?.reason).toContain("let it settle");
    expect(Math.abs((bore?.valueAt20 ?? NaN) - (45.963 - 0.0195))).toBeLessThan(1e-4);
  });

  it("adds to U what is beyond the 3 K of the budget", () => {
    expect(warm(22.9, 45.975)?.uncertainty).toBe(0.0059);
    // 5 K from 20: 2 K x 1.0856 µm.
    expectDigits(warm(15, 45.975)?.uncertainty ?? NaN, 0.0059 + 0.0021712, 9);
    expect(warm(15, 45.975)).toMatchObject({ verdict: "conforms", widenedBy: ["the shell at 15 °C"] });
  });

  it("goes by the range of the plan, and is due where the plan asks for it", () => {
    const temperature = { fromC: 18, toC: 22, asked: true };
    expect(warm(23, 45.975, { temperature })?.code).toBe("temperature");
    expect(warm(21, 45.975, { temperature })?.verdict).toBe("conforms");
    expect(warm(null, 45.975, { temperature })?.reason).toContain("none was read");
    expect(warm(null, 45.975)?.verdict).toBe("conforms");
  });

  it("takes no failure for proven outside the range", () => {
    expect(warm(38, 46.02)?.verdict).toBe("not proven");
  });
});
