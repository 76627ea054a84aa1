import { describe, expect, it } from "vitest";
import { compileMeasurement, measureFrame } from "@/lib/core/metrology/measure-frame";
import { fullPlan, routinePlan } from "@/lib/core/metrology/measuring-plan";
import { formatReadingName, parseReadingName, type ReadingName } from "@/lib/core/metrology/reading-name";
import { toldJudgement } from "@/lib/format/judging-words";
import { PRESS_FIT_41, PRESS_FIT_42 } from "@/lib/quality/demonstration-drawings";
import { blindnessDoubts, zeroDoubts } from "@/lib/quality/gauge-doubts";
import { judgeFrame, type ToldJudgement } from "@/lib/quality/judge-frame";
import type { JudgingDoubt } from "@/lib/quality/judging-doubt";
import { expectDigits } from "@/tests/helpers/expect-digits";

// Limits, U and consequences: those of the demonstration drawings (invented).
const plan = fullPlan(PRESS_FIT_41);
const compiled = compileMeasurement(plan, PRESS_FIT_41);
const labels = plan.map(formatReadingName);
const RAD = Math.PI / 180;

function good(name: ReadingName): number | null {
  if (name.kind === "bore") return 40.975;
  if (name.kind === "width") return 86.5;
  return name.kind === "sweep" || name.kind === "face" ? 100 : null;
}

/** A good frame but for some readings by name. */
function judged(changes: Readonly<Record<string, number | null>>, doubts: readonly JudgingDoubt[] = []): ToldJudgement {
  for (const label of Object.keys(changes)) if (!labels.includes(label)) throw new Error(`no reading ${label}`);
  const values = plan.map((name, i) => {
    const label = labels[i] ?? "";
    return label in changes ? (changes[label] ?? null) : good(name);
  });
  return toldJudgement(judgeFrame(PRESS_FIT_41, compiled, measureFrame(compiled, values), doubts));
}

function only(judgement: ToldJudgement, name: string, seat: string | null) {
  const found = judgement.characteristics.filter((c) => c.name === name && c.seat === seat);
  expect(found).toHaveLength(1);
  return found[0];
}

/** Sweep readings of both sections with a parallel offset, µm, towards 12 o'clock. */
function offset(um: number): Record<string, number> {
  return Object.fromEntries(
    plan.flatMap((name, i) =>
      name.kind === "sweep" ? [[labels[i] ?? "", 100 + um * Math.cos(name.angleDeg * RAD)] as const] : [],
    ),
  );
}

describe("judgeFrame", () => {
  it("lets a good frame conform in twelve characteristics", () => {
    const result = judged({});
    expect(result.verdict).toBe("conforms");
    expect(result.holdsFrame).toBe(false);
    expect(result.uncovered).toEqual([]);
    expect(result.characteristics.map(({ name, seat }) => `${name} ${seat ?? "-"}`)).toEqual([
      "bore ds",
      "bore nds",
      "ovality ds",
      "ovality nds",
      "taper ds",
      "taper nds",
      "coaxiality nds",
      "tilt ds",
      "tilt nds",
      "face run-out ds",
      "face run-out nds",
      "width -",
    ]);
  });

  it("judges every two-point size, and names the one that is worst", () => {
    const result = judged({ "nds.bore.8@1:30-7:30": 41.02 });
    expect(only(result, "bore", "nds")).toMatchObject({
      value: 41.02,
      smallest: 40.975,
      largest: 41.02,
      lower: 40.95,
      upper: 41,
      unit: "mm",
      uncertainty: 0.0059,
      verdict: "does not conform",
      critical: true,
      at: "nds.bore.8@1:30-7:30",
    });
    expect(only(result, "bore", "ds")?.verdict).toBe("conforms");
    expect(result.verdict).toBe("does not conform");
    expect(result.holdsFrame).toBe(true);
  });

  it("conforms at 40.9559 and is not proven at 40.9558 and at 40.9441", () => {
    expect(only(judged({ "ds.bore.2@12-6": 40.9559 }), "bore", "ds")?.verdict).toBe("conforms");
    for (const value of [40.9558, 40.95, 40.9441]) {
      const result = judged({ "ds.bore.2@12-6": value });
      expect(only(result, "bore", "ds")).toMatchObject({ verdict: "not proven", value });
      expect(result.holdsFrame).toBe(true);
    }
    expect(only(judged({ "ds.bore.2@12-6": 40.944 }), "bore", "ds")?.verdict).toBe("does not conform");
  });

  it("informs and does not hold when a characteristic that is not critical is not proven", () => {
    // Face run-out 2 x 25 = 50 µm, the limit, U 4.
    const result = judged({ "ds.face@0": 125, "ds.face@180": 75 });
    expectDigits(only(result, "face run-out", "ds")?.value ?? NaN, 50, 10);
    expect(only(result, "face run-out", "ds")).toMatchObject({ verdict: "not proven", at: "12" });
    expect(result.verdict).toBe("not proven");
    expect(result.holdsFrame).toBe(false);
  });

  it("holds when a characteristic that is not critical does not conform", () => {
    const result = judged({ "width@3": 86.73 });
    expect(only(result, "width", null)).toMatchObject({ value: 86.73, verdict: "does not conform", at: "width@3" });
    expect(result.holdsFrame).toBe(true);
  });

  it("judges taper on its size, whichever end is small, and reports it signed", () => {
    for (const sign of [1, -1]) {
      const changes = Object.fromEntries(
        labels.filter((label) => label.startsWith("ds.bore.8")).map((label) => [label, 40.975 + sign * 0.0125]),
      );
      const taper = only(judged(changes), "taper", "ds");
      expectDigits(taper?.value ?? NaN, sign * 12.5, 8);
      expect(taper?.verdict).toBe("does not conform"); // limit 10, U 2.2: proven beyond 12.2
    }
  });

  it("sees a parallel offset as coaxiality to the datum and as tilt of both seats", () => {
    // Offset 0.05: zone 100 µm, the limit, U 12; tilt 2.25' of 4', U 1.0'.
    const at = judged(offset(50));
    expect(only(at, "coaxiality", "nds")).toMatchObject({ verdict: "not proven", at: "12" });
    expect(only(at, "tilt", "ds")?.verdict).toBe("conforms");
    expect(at.holdsFrame).toBe(true);
    expect(only(judged(offset(43.9)), "coaxiality", "nds")?.verdict).toBe("conforms");
    expect(only(judged(offset(56.1)), "coaxiality", "nds")?.verdict).toBe("does not conform");
  });

  it("takes 1.65 u_c or nothing as guard band when the drawing says so", () => {
    const values = plan.map((name, i) => (labels[i] === "ds.bore.2@12-6" ? 40.955 : good(name)));
    const verdict = (decisionRule: "guard-u" | "guard-1.65uc" | "simple") => {
      const drawing = { ...PRESS_FIT_41, decisionRule };
      return judgeFrame(drawing, compiled, measureFrame(compiled, values)).characteristics[0]?.verdict;
    };
    // Guard bands 0.0059, 0.0048675 and 0 above 40.950.
    expect(verdict("guard-u")).toBe("not proven");
    expect(verdict("guard-1.65uc")).toBe("conforms");
    expect(verdict("simple")).toBe("conforms");
  });
});

describe("judgeFrame with readings missing", () => {
  it("does not count a characteristic as measured when one of its due readings is missing", () => {
    const result = judged({ "ds.bore.2@12-6": null });
    for (const name of ["bore", "ovality", "taper"])
      expect(only(result, name, "ds")).toMatchObject({
        verdict: "not measured",
        reason: "reading ds.bore.2@12-6 is missing",
      });
    expect(only(result, "bore", "nds")?.verdict).toBe("conforms");
    expect(result.verdict).toBe("not measured");
    expect(result.holdsFrame).toBe(true);
    expect(only(result, "bore", "ds")?.value).toBe(40.975);
  });

  it("says that a reading could not be taken where somebody said so, and that it is missing where nobody did", () => {
    const gone = ["ds.bore.2@12-6", "ds.bore.8@12-6"];
    const measurement = measureFrame(
      compiled,
      plan.map((name, index) => (gone.includes(labels[index] ?? "") ? null : good(name))),
    );
    const reasonWith = (said: readonly string[]): string | undefined => {
      const cannot = labels.map((label) => said.includes(label));
      const judgement = judgeFrame(PRESS_FIT_41, compiled, measurement, [], { cannot });
      return only(toldJudgement(judgement), "bore", "ds")?.reason;
    };
    expect(reasonWith(gone)).toBe("2 readings could not be taken, first ds.bore.2@12-6");
    expect(reasonWith(gone.slice(0, 1))).toBe("2 readings are missing, first ds.bore.2@12-6");
  });

  it("does not take back a size that is proven out", () => {
    const result = judged({ "ds.bore.2@12-6": null, "ds.bore.8@12-6": 41.05 });
    expect(only(result, "bore", "ds")).toMatchObject({ verdict: "does not conform", value: 41.05 });
    expect(result.verdict).toBe("does not conform");
  });

  it("has no value but a reason where everything is missing", () => {
    const result = judged(Object.fromEntries(labels.map((label) => [label, null])));
    for (const characteristic of result.characteristics) {
      expect(characteristic).toMatchObject({ verdict: "not measured", value: null });
      expect(characteristic.reason).toContain("readings are missing");
    }
  });
});

describe("judgeFrame with a shorter plan", () => {
  it("judges only what the plan gives, with its larger U, and finds nothing critical uncovered in the routine plan", () => {
    const names = routinePlan(PRESS_FIT_41);
    const routine = compileMeasurement(names, PRESS_FIT_41);
    const result = toldJudgement(judgeFrame(PRESS_FIT_41, routine, measureFrame(routine, names.map(good))));
    expect(new Set(result.characteristics.map(({ name }) => name))).toEqual(
      new Set(["bore", "ovality", "taper", "coaxiality", "tilt"]),
    );
    expect(result.uncovered).toEqual([]);
    // Three directions instead of four: taper sqrt(2 / 3) against sqrt(2 / 4).
    expectDigits(only(result, "taper", "nds")?.uncertainty ?? NaN, 2.2 * Math.sqrt(4 / 3), 12);
    expect(result.verdict).toBe("conforms");
  });

  it("names the critical characteristics that a plan cannot give: tilt from one swept section, a seat without diameters", () => {
    const names = plan.filter(
      (name) => (name.kind === "bore" && name.seat === "ds") || (name.kind === "sweep" && name.depthMm === 2),
    );
    const short = compileMeasurement(names, PRESS_FIT_41);
    const result = judgeFrame(PRESS_FIT_41, short, measureFrame(short, names.map(good)));
    expect(result.uncovered).toEqual([
      { name: "bore", seat: "nds", reason: "the plan has no diameters of this seat" },
      { name: "tilt", seat: "ds", reason: "one swept section gives the offset of the seat, not its tilt" },
      { name: "tilt", seat: "nds", reason: "one swept section gives the offset of the seat, not its tilt" },
    ]);
    expect(result.characteristics.map(({ name, seat }) => `${name} ${seat}`)).toEqual([
      "bore ds",
      "ovality ds",
      "taper ds",
      "coaxiality nds",
    ]);
  });

  it("is not measured, and holds, without any reading of a characteristic", () => {
    const parsed = parseReadingName("nds.sweep.2@0");
    if (!parsed.ok) throw new Error(parsed.reason);
    const single = compileMeasurement([parsed.value], PRESS_FIT_41);
    const result = judgeFrame(PRESS_FIT_41, single, measureFrame(single, [0]));
    expect(result).toMatchObject({ verdict: "not measured", holdsFrame: true, characteristics: [] });
    expect(result.uncovered).toHaveLength(5);
  });

  it("finds the tolerance of the 42 mm bore nearly eaten: 25 µm less twice 5.9", () => {
    const names = fullPlan(PRESS_FIT_42);
    const c = compileMeasurement(names, PRESS_FIT_42);
    const at = (mm: number) =>
      judgeFrame(
        PRESS_FIT_42,
        c,
        measureFrame(
          c,
          names.map((name) => (name.kind === "bore" ? mm : name.kind === "width" ? 68 : 0)),
        ),
      ).characteristics[0]?.verdict;
    expect(at(41.9639)).toBe("conforms");
    expect(at(41.9771)).toBe("conforms");
    expect(at(41.9772)).toBe("not proven");
  });
});

describe("doubts about gauges", () => {
  it("makes ovality not proven when only a three-point gauge measured it, and leaves sizes alone", () => {
    const principles = plan.map((name) => (name.kind === "bore" ? ({ kind: "three-point" } as const) : null));
    const result = judged({}, blindnessDoubts(compiled, principles));
    expect(only(result, "ovality", "ds")).toMatchObject({
      verdict: "not proven",
      reason: "the gauge does not see lobes of order 2",
    });
    expect(only(result, "bore", "ds")?.verdict).toBe("conforms");
    expect(result.holdsFrame).toBe(false);
  });

  it("makes everything that a drifted gauge read not proven, failures too", () => {
    const suspect = plan.map((name) => (name.kind === "bore" ? "zero off by 7 µm" : null));
    const result = judged({ "ds.bore.2@12-6": 41.05 }, zeroDoubts(compiled, suspect));
    expect(only(result, "bore", "ds")).toMatchObject({ verdict: "not proven", reason: "zero off by 7 µm" });
    expect(only(result, "width", null)?.verdict).toBe("conforms");
    expect(result.holdsFrame).toBe(true);
  });
});
