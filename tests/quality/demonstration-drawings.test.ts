import { describe, expect, it } from "vitest";
import { compileMeasurement, measureFrame } from "@/lib/core/metrology/measure-frame";
import { fullPlan } from "@/lib/core/metrology/measuring-plan";
import { CHARACTERISTIC_NAMES, type Material, type ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { toldFrameMeaning } from "@/lib/format/meaning-words";
import { DEMONSTRATION_DRAWINGS, findDemonstrationDrawing } from "@/lib/quality/demonstration-drawings";
import { frameMeaning } from "@/lib/quality/frame-meaning";
import { judgeReading } from "@/lib/quality/judge-reading";
import { planWarningText } from "@/lib/format/plan-words";
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

/** A ring or wall from one radius to the next, mm; GPa. */
type Wall = { readonly toMm: number; readonly gpa: number; readonly nu: number };
type State = readonly [uMm: number, stressGpa: number];

/**
 * Equilibrium of a thick wall under even pressure, step by step (Runge-Kutta of order four): du/dr = (1 - nu^2) s / E - nu u / r,
 * ds/dr = (t - s) / r with the hoop stress t = E u / r + nu s (plane stress; Timoshenko, Strength of Materials).
 */
function through(state: State, fromMm: number, { toMm, gpa, nu }: Wall): State {
  const steps = 400;
  const h = (toMm - fromMm) / steps;
  const slope = (r: number, [u, s]: State): State => [
    ((1 - nu * nu) * s) / gpa - (nu * u) / r,
    ((gpa * u) / r + (nu - 1) * s) / r,
  ];
  const along = ([u, s]: State, [du, ds]: State, step: number): State => [u + step * du, s + step * ds];
  let at = state;
  for (let index = 0; index < steps; index += 1) {
    const r = fromMm + index * h;
    const a = slope(r, at);
    const b = slope(r + h / 2, along(at, a, h / 2));
    const c = slope(r + h / 2, along(at, b, h / 2));
    const d = slope(r + h, along(at, c, h));
    at = [at[0] + (h / 6) * (a[0] + 2 * b[0] + 2 * c[0] + d[0]), at[1] + (h / 6) * (a[1] + 2 * b[1] + 2 * c[1] + d[1])];
  }
  return at;
}

/** How much of 1 µm of interference in the seat the outer raceway contracts by: two shots from the raceway outwards, which are linear. */
function racewayShare({ carries: { bearing, cup }, ...drawing }: ShellDrawing, endless: boolean): number {
  const wall = (toMm: number, { youngsModulusGpa: gpa, poissonsRatio: nu }: Material): Wall => ({ toMm, gpa, nu });
  // Bearing steel 206 GPa, 0.30 (handbooks); outer raceway (4 D + d) / 5 (from memory).
  const raceway = (4 * bearing.outsideDiameterMm + bearing.boreMm) / 10;
  const inner: Wall[] = [{ toMm: bearing.outsideDiameterMm / 2, gpa: 206, nu: 0.3 }];
  if (cup !== null) inner.push(wall(cup.outsideDiameterMm / 2, cup.material));
  const shell = wall(drawing.shellOutsideDiameterMm / 2, drawing.shellMaterial);
  const seat = inner.at(-1)?.toMm ?? NaN;
  const outward = (u: number, jump: number): State => {
    let [at, from]: [State, number] = [[u, 0], raceway];
    for (const each of inner) [at, from] = [through(at, from, each), each.toMm];
    return [at[0] + jump, at[1]];
  };
  // What has to be 0: the stress at the shell's free surface; for an endless wall u = -(1 + nu) r s / E at the seat (Lamé).
  const miss = (state: State): number =>
    endless ? state[0] + ((1 + shell.nu) * seat * state[1]) / shell.gpa : through(state, seat, shell)[1];
  return miss(outward(0, 1)) / miss(outward(1, 0));
}

describe("what a shell within the limits does to its bearing", () => {
  const figures = DEMONSTRATION_DRAWINGS.flatMap((drawing) => {
    const bore = drawing.characteristics.find(({ name }) => name === "bore");
    const [lower, upper] = [bore?.lower ?? NaN, bore?.upper ?? NaN];
    return [
      { key: drawing.key, drawing, place: "at its lower limit", seatMm: lower, verdict: "drags" },
      { key: drawing.key, drawing, place: "in the middle", seatMm: (lower + upper) / 2, verdict: "runs free" },
      { key: drawing.key, drawing, place: "at its upper limit", seatMm: upper, verdict: "runs free" },
    ];
  });

  it.each(figures)("$key $place: $verdict", ({ drawing, seatMm, verdict }) => {
    const names = fullPlan(drawing);
    const readings = names.map(({ kind }) => (kind === "bore" ? seatMm : kind === "width" ? drawing.widthMm : 0));
    const measurement = measureFrame(compileMeasurement(names, drawing), readings);
    const { bearing, cup } = drawing.carries;
    const [largest, smallest] = cup === null ? bearing.outsideDeviationUm : cup.outsideDeviationUm;
    const over = ((cup ?? bearing).outsideDiameterMm - seatMm) * 1000;
    const [most, least] = [over + largest, over + smallest];
    const [endless, finite] = [racewayShare(drawing, true), racewayShare(drawing, false)];
    for (const seat of ["ds", "nds"] as const) {
      const { clearance } = toldFrameMeaning(frameMeaning(drawing, { measurement })).bearings[seat];
      if (!clearance.result.ok) throw new Error(clearance.sentence);
      const found = clearance.result.value;
      // ISO 5753-1 C3 over 24 to 30: 13 to 28 µm; a fit with clearance takes nothing.
      expect(found.clearance.minUm).toBeCloseTo(13 - endless * Math.max(most, 0), 5);
      expect(found.clearance.maxUm).toBeCloseTo(28 - finite * Math.max(least, 0), 5);
      expect(found.clearance.meanUm).toBeCloseTo(20.5 - ((endless + finite) / 2) * Math.max((most + least) / 2, 0), 5);
      expect(found.verdict).toBe(verdict);
      expect(clearance.figure).toMatch(verdict === "drags" ? /^drags, \u2212/ : /^free, \+/);
    }
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
    const said = uncertaintyWarnings(drawing, quarters).map(planWarningText).join(" ");
    expect(said).toContain("does not see lobes that its angles take for an offset");
    expect(said).toContain("up to the drawing's form limits");
    expect(uncertaintyWarnings(drawing, fullPlan(drawing))).toEqual([]);
  });

  it("say that the form comes from the stream where the plan knows it", () => {
    const form = { lobeUm: 2, ovalityUm: 6, taperUm: 3 };
    expect(uncertaintyWarnings(drawing, quarters, { form }).map(planWarningText).join(" ")).toContain(
      "as the stream's full plans show",
    );
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
