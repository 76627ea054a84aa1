import { describe, expect, it } from "vitest";
import { CoreError } from "@/lib/core/errors";
import { type BoreReading, designBore, measureBore } from "@/lib/core/metrology/bore-seat";
import { designFace, measureFace } from "@/lib/core/metrology/face-sweep";
import { designFrame } from "@/lib/core/metrology/frame-designs";
import { fullPlan, routinePlan } from "@/lib/core/metrology/measuring-plan";
import { monteCarloUncertainty } from "@/lib/core/metrology/monte-carlo-uncertainty";
import { budgetOf, sizeStandardUncertaintyUm } from "@/lib/core/metrology/uncertainty-budget";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { PRESS_FIT_41, PRESS_FIT_42 } from "@/lib/quality/demonstration-drawings";

/** One section decides and the tilt is far from zero, so that the closed form's straight line holds. */
const TILTED = { y: [0.09, 0.02], z: [0.03, -0.01] } as const;

describe("monteCarloUncertainty", () => {
  it.each([
    ["full plan 41", PRESS_FIT_41, fullPlan(PRESS_FIT_41)],
    ["routine plan 41", PRESS_FIT_41, routinePlan(PRESS_FIT_41)],
    ["full plan 42", PRESS_FIT_42, fullPlan(PRESS_FIT_42)],
  ])("agrees with the closed form within 3 standard errors: %s", (_, drawing, plan) => {
    const designs = designFrame(plan, drawing);
    const [design] = designs.swept;
    if (design === undefined) throw new Error("no sweep");
    const centres = design.sections.map((section, i) => ({
      xMm: section.xMm,
      yMm: TILTED.y[i] ?? 0,
      zMm: TILTED.z[i] ?? 0,
    }));
    const drawn = monteCarloUncertainty(design, drawing, {
      centres,
      draws: 10_000,
      generator: createSeededGenerator(41),
    });
    // The closed form (GUM) is the check here, derived independently of the draws.
    const pairs = [
      [drawn.coaxiality, budgetOf(designs, drawing, "coaxiality", "nds")],
      [drawn.tiltSwept, budgetOf(designs, drawing, "tilt", "nds")],
      [drawn.tiltDatum, budgetOf(designs, drawing, "tilt", "ds")],
    ] as const;
    for (const [feature, closed] of pairs)
      expect(Math.abs((feature?.standardUncertainty ?? NaN) - closed)).toBeLessThan(3 * (feature?.standardError ?? 0));
  });

  it("repeats itself for a seed, and refuses too few draws", () => {
    const designs = designFrame(fullPlan(PRESS_FIT_41), PRESS_FIT_41);
    const [design] = designs.swept;
    if (design === undefined) throw new Error("no sweep");
    const centres = design.sections.map(({ xMm }) => ({ xMm, yMm: 0, zMm: 0 }));
    const run = (seed: number) =>
      monteCarloUncertainty(design, PRESS_FIT_41, { centres, draws: 200, generator: createSeededGenerator(seed) });
    expect(run(1)).toEqual(run(1));
    expect(run(1)).not.toEqual(run(2));
    const options = { centres, draws: 10, generator: createSeededGenerator(1) };
    expect(() => monteCarloUncertainty(design, PRESS_FIT_41, options)).toThrow(CoreError);
    expect(() =>
      monteCarloUncertainty(design, PRESS_FIT_41, { ...options, draws: 200, centres: centres.slice(1) }),
    ).toThrow(CoreError);
  });
});

describe("closed forms of the linear features against draws of the budget", () => {
  const draws = 10_000;
  const due: BoreReading[] = [2, 8].flatMap((depthMm, i) =>
    [0, 45, 90, 135].map((directionDeg, j) => ({ index: i * 4 + j, depthMm, directionDeg })),
  );

  function drawBores(measure: (values: readonly number[], common: number) => number): number {
    const generator = createSeededGenerator(7);
    const found: number[] = [];
    for (let i = 0; i < draws; i += 1) {
      // Components of the demonstration (invented): what all readings share, and what each has alone.
      const common = 0.75 * generator.normal() + 1.732 * generator.normal() + 1.717 * generator.normal();
      // One long oval, so that the same two directions stay the extremes.
      const values = due.map(({ directionDeg }) => {
        const oval = 0.02 * Math.cos((2 * directionDeg * Math.PI) / 180);
        return 41 + oval + (common + 1.5 * generator.normal()) / 1000;
      });
      found.push(measure(values, common));
    }
    const mean = found.reduce((a, b) => a + b, 0) / draws;
    return Math.sqrt(found.reduce((a, b) => a + (b - mean) ** 2, 0) / (draws - 1));
  }

  const bore = designBore(due);
  const within3 = (drawn: number, closed: number): void => {
    // Standard error of a standard deviation of normal draws: u / sqrt(2 n).
    expect(Math.abs(drawn - closed)).toBeLessThan((3 * closed) / Math.sqrt(2 * draws));
  };

  it("mean of eight sizes", () => {
    within3(
      drawBores((values) => (measureBore(bore, values)?.meanMm ?? NaN) * 1000),
      sizeStandardUncertaintyUm(8),
    );
  });

  it("taper, in which the common parts cancel", () => {
    const designs = designFrame(fullPlan(PRESS_FIT_41), PRESS_FIT_41);
    within3(
      drawBores((values) => measureBore(bore, values)?.taperUm ?? NaN),
      budgetOf(designs, PRESS_FIT_41, "taper", "ds"),
    );
  });

  it("ovality of one section as four times the 2nd harmonic", () => {
    const designs = designFrame(fullPlan(PRESS_FIT_41), PRESS_FIT_41);
    const section = designBore(due.slice(0, 4));
    within3(
      drawBores(
        (values) => 4 * (measureBore(section, values.slice(0, 4))?.sections[0]?.secondHarmonic?.amplitudeUm ?? NaN),
      ),
      budgetOf(designs, PRESS_FIT_41, "ovality", "ds"),
    );
  });

  it("one size", () => {
    within3(
      drawBores((values) => (values[0] ?? NaN) * 1000),
      sizeStandardUncertaintyUm(1),
    );
  });

  it("face run-out", () => {
    const angles = [0, 90, 180, 270];
    const face = designFace(
      "ds",
      angles.map((angleDeg, index) => ({ index, angleDeg })),
    );
    const generator = createSeededGenerator(3);
    const found: number[] = [];
    for (let i = 0; i < draws; i += 1) {
      const values = angles.map((a) => 30 * Math.cos((a * Math.PI) / 180) + Math.SQRT2 * generator.normal());
      const measured = measureFace(face, values, 1);
      found.push(measured.ok ? measured.value.runOutUm : NaN);
    }
    const mean = found.reduce((a, b) => a + b, 0) / draws;
    const sd = Math.sqrt(found.reduce((a, b) => a + (b - mean) ** 2, 0) / (draws - 1));
    const designs = designFrame(fullPlan(PRESS_FIT_41), PRESS_FIT_41);
    within3(sd, budgetOf(designs, PRESS_FIT_41, "face run-out", "ds"));
  });
});
