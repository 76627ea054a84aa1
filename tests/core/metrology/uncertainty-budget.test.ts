import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { designFrame } from "@/lib/core/metrology/frame-designs";
import { fullPlan, routinePlan } from "@/lib/core/metrology/measuring-plan";
import { budgetOf, planUncertainty, sizeStandardUncertaintyUm } from "@/lib/core/metrology/uncertainty-budget";
import { DEMONSTRATION_DRAWINGS, PRESS_FIT_41, PRESS_FIT_42 } from "@/lib/quality/demonstration-drawings";
import { expectDigits } from "@/tests/helpers/expect-digits";
import reference from "@/tests/reference/seat-geometry.json";

const full = designFrame(fullPlan(PRESS_FIT_41), PRESS_FIT_41);

describe("the budget of the full plan", () => {
  it("adds the published components to u_c 2.960 and U 5.92 µm", () => {
    // geometry.json, budget: printed to 0.001 and 0.01 µm.
    const u = sizeStandardUncertaintyUm(1);
    expect(Math.abs(u - reference.budget.uc_um)).toBeLessThan(6e-4);
    expect(Math.abs(2 * u - reference.budget.U_um)).toBeLessThan(6e-3);
  });

  it("gives the U that the demonstration drawings state for each feature", () => {
    // By hand from the components: 5.2 for the mean of 8; 12; 1.0' from two sections 6 mm apart; 4 from four face readings.
    expect(Math.abs(2 * sizeStandardUncertaintyUm(8) - 5.2)).toBeLessThan(0.05);
    const u = (name: Parameters<typeof budgetOf>[2], seat: "ds" | "nds" | null): number =>
      2 * budgetOf(full, PRESS_FIT_41, name, seat);
    expect(Math.abs(u("coaxiality", "nds") - 12)).toBeLessThan(0.5);
    expect(Math.abs(u("tilt", "nds") - 1.0)).toBeLessThan(0.05);
    expect(Math.abs(u("face run-out", "ds") - 4)).toBeLessThan(0.05);
    expect(Math.abs(u("width", null) - 20)).toBeLessThan(0.05);
    const short = designFrame(fullPlan(PRESS_FIT_42), PRESS_FIT_42);
    expect(Math.abs(2 * budgetOf(short, PRESS_FIT_42, "tilt", "nds") - 1.5)).toBeLessThan(0.05);
    // By hand: x = 68 - 1.5, datum's middle 3.5, its length 4: lever 15.75; 2 x 2 sqrt(1.2^2 / 4 + (0.23 x 15.75)^2) = 14.69.
    expect(Math.abs(2 * budgetOf(short, PRESS_FIT_42, "coaxiality", "nds") - 14.69)).toBeLessThan(0.005);
    expect(PRESS_FIT_42.characteristics.find(({ name }) => name === "coaxiality")?.uncertainty).toBe(15);
    // Ovality 4.4 and taper 2.2 are in the ratio sqrt(2) random : sqrt(2 / 4) random = 2.
    expectDigits(u("ovality", "ds") / u("taper", "ds"), 2, 12);
  });

  it("gives the zone of an 8-point sweep 2.4 µm by noise alone", () => {
    // By hand: 2 x 2 x 1.2 sqrt(2 / 8) = 2.4; a datum that is known exactly leaves only that.
    const close = { ...PRESS_FIT_41, widthMm: 10, fullPlanDepthsMm: [2, 8] };
    const designs = designFrame(
      fullPlan(close).filter((name) => name.kind !== "sweep" || name.depthMm === 2),
      { ...close, widthMm: 7 },
    );
    // The section at x = 5 lies in the middle of the datum: lever 0.
    expectDigits(2 * budgetOf(designs, { ...close, widthMm: 7 }, "coaxiality", "nds"), 2.4, 9);
  });
});

describe("planUncertainty", () => {
  it("gives exactly the drawing's table for the full plan", () => {
    for (const drawing of DEMONSTRATION_DRAWINGS)
      for (const { name, uncertainty } of planUncertainty(drawing, fullPlan(drawing)))
        expect(uncertainty).toBe(drawing.characteristics.find((c) => c.name === name)?.uncertainty);
  });

  it("never gives a shorter plan a smaller U", () => {
    const plan = fullPlan(PRESS_FIT_41);
    const table = new Map(planUncertainty(PRESS_FIT_41, plan).map((u) => [`${u.name} ${u.seat}`, u.uncertainty]));
    fc.assert(
      fc.property(fc.shuffledSubarray(plan, { minLength: 1 }), (part) => {
        for (const { name, seat, uncertainty } of planUncertainty(PRESS_FIT_41, part))
          expect(uncertainty, `${name} ${seat}`).toBeGreaterThanOrEqual(
            (table.get(`${name} ${seat}`) ?? NaN) * (1 - 1e-12),
          );
      }),
      { seed: 41, numRuns: 200 },
    );
  });

  it("gives the routine plan the U of the full one where it has as much to go by", () => {
    const table = new Map(
      planUncertainty(PRESS_FIT_41, routinePlan(PRESS_FIT_41)).map((u) => [`${u.name} ${u.seat}`, u.uncertainty]),
    );
    // Eight angles at both depths, as in the full plan; a size from three directions 60 degrees apart has, by its mean (1/3) and
    // its oval (2/3), the variance of one reading.
    for (const [of, expected] of [
      ["coaxiality nds", 12],
      ["tilt nds", 1],
      ["bore ds", 0.0059],
    ] as const)
      expectDigits(table.get(of) ?? NaN, expected, 12);
  });

  it("leaves out what the plan cannot give", () => {
    const oneSection = fullPlan(PRESS_FIT_41).filter((name) => name.kind === "sweep" && name.depthMm === 2);
    expect(planUncertainty(PRESS_FIT_41, oneSection).map(({ name }) => name)).toEqual(["coaxiality"]);
    expect(planUncertainty(PRESS_FIT_41, [])).toEqual([]);
  });
});
