import { describe, expect, it } from "vitest";
import { fullPlan } from "@/lib/core/metrology/measuring-plan";
import { CHARACTERISTIC_NAMES } from "@/lib/core/metrology/shell-drawing";
import { DEMONSTRATION_DRAWINGS, findDemonstrationDrawing } from "@/lib/quality/demonstration-drawings";
import { judgeReading } from "@/lib/quality/judge-reading";
import { assessPlanUncertainty, uncertaintyWarnings } from "@/lib/quality/plan-uncertainty";
import { expectDigits } from "@/tests/helpers/expect-digits";

describe("the demonstration drawings", () => {
  it("limit every characteristic, say that they are invented, and hold on size, coaxiality and tilt", () => {
    for (const drawing of DEMONSTRATION_DRAWINGS) {
      expect(drawing.invented).toBe(true);
      expect(drawing.characteristics.map(({ name }) => name)).toEqual([...CHARACTERISTIC_NAMES]);
      // Which are critical: invented with the drawings.
      expect(drawing.characteristics.filter(({ critical }) => critical).map(({ name }) => name)).toEqual([
        "bore",
        "coaxiality",
        "tilt",
      ]);
    }
  });

  it("carry C3 bearings, cups of +20/+5, and the diameters of the faces", () => {
    // Depths and diameters: invented with the drawings; ISO 5753-1 C3 over 24 to 30: 13-28 um.
    expect(
      DEMONSTRATION_DRAWINGS.map(({ seatDepthMm, faceOutsideDiameterMm, faceSweepDiameterMm, carries }) => ({
        face: [seatDepthMm, faceOutsideDiameterMm, faceSweepDiameterMm],
        bearing: [carries.bearing.designation, carries.bearing.clearanceClass, ...carries.bearing.clearanceUm],
        cup: carries.cup === null ? null : [carries.cup.outsideDiameterMm, ...carries.cup.outsideDeviationUm],
      })),
    ).toEqual([
      { face: [12, 49, 44], bearing: ["61805", "C3", 13, 28], cup: [41, 20, 5] },
      { face: [12, 52, 49], bearing: ["61806", "C3", 13, 28], cup: [46, 20, 5] },
      { face: [7, 50, 46], bearing: ["61806", "C3", 13, 28], cup: null },
    ]);
  });

  it("are found by their key", () => {
    expect(findDemonstrationDrawing("press-fit-42")?.widthMm).toBe(68);
    expect(findDemonstrationDrawing("press-fit-43")).toBeNull();
  });
});

describe("assessPlanUncertainty", () => {
  it("warns where U is over a quarter of the tolerance", () => {
    const found = DEMONSTRATION_DRAWINGS.map((drawing) =>
      assessPlanUncertainty(drawing, fullPlan(drawing)).flatMap(({ name, seat, large }) =>
        large ? [`${name} ${seat}`] : [],
      ),
    );
    // By hand: 5.9/25 = 0.236, 4.4/20 = 0.22, 2.2/10 = 0.22, 1.5/4 = 0.375; a quarter (1.0/4) is not over.
    expect(found).toEqual([[], [], ["tilt ds", "tilt nds"]]);
  });

  it("says where a plan's uncertainty leaves nothing to conform", () => {
    const [drawing] = DEMONSTRATION_DRAWINGS;
    if (drawing === undefined) throw new Error("no drawing");
    const tight = {
      ...drawing,
      characteristics: drawing.characteristics.map((c) => (c.name === "tilt" ? { ...c, upper: 1.2 } : c)),
    };
    const quarters = fullPlan(tight).filter((name) => name.kind !== "sweep" || name.angleDeg % 90 === 0);
    const eaten = assessPlanUncertainty(tight, quarters).filter(({ eatsTolerance }) => eatsTolerance);
    // Four angles: a lobe of three of amplitude up to 20 um may shift each centre (plan-blindness.test.ts): 13 arc minutes for the
    // swept seat; the datum seat's is no more than 1.2.
    expect(eaten.map(({ name, seat }) => `${name} ${seat}`)).toEqual(["tilt nds"]);
  });
});

describe("uncertaintyWarnings", () => {
  const [drawing] = DEMONSTRATION_DRAWINGS;
  if (drawing === undefined) throw new Error("no drawing");
  const quarters = fullPlan(drawing).filter((name) => name.kind !== "sweep" || name.angleDeg % 90 === 0);

  it("say what a shorter plan does not see, and nothing of the kind of the full plan", () => {
    const said = uncertaintyWarnings(drawing, quarters).join(" ");
    expect(said).toContain("does not see lobes that its angles take for an offset");
    expect(said).toContain("up to the drawing's form limits");
    expect(uncertaintyWarnings(drawing, fullPlan(drawing))).toEqual([]);
  });

  it("say that the form comes from the stream where the plan knows it", () => {
    const form = { lobeUm: 2, ovalityUm: 6, taperUm: 3 };
    expect(uncertaintyWarnings(drawing, quarters, { form }).join(" ")).toContain("as the stream's full plans show");
  });
});

describe("judgeReading", () => {
  const [drawing] = DEMONSTRATION_DRAWINGS;
  if (drawing === undefined) throw new Error("no drawing");

  it("gives deviation from the middle and a verdict for a size", () => {
    const feedback = judgeReading(drawing, { kind: "bore", seat: "ds", depthMm: 2, directionDeg: 0 }, 40.96);
    // 40.960 - 40.975 mm by hand; the subtraction of 41 costs four digits.
    expectDigits(feedback.deviationUm ?? NaN, -15, 9);
    expect(feedback).toMatchObject({ verdict: "conforms", question: null, lowerMm: 40.95, upperMm: 41 });
  });

  it("asks about a slip and says nothing about a single sweep reading", () => {
    expect(
      judgeReading(drawing, { kind: "bore", seat: "ds", depthMm: 2, directionDeg: 0 }, 4098).question?.slip,
    ).toEqual({
      kind: "missing decimal sign",
      value: 40.98,
    });
    expect(judgeReading(drawing, { kind: "face", seat: "ds", angleDeg: 0 }, 12)).toEqual({
      deviationUm: null,
      lowerMm: null,
      upperMm: null,
      verdict: null,
      question: null,
    });
  });
});
