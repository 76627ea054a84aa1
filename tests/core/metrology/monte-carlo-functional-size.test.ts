import { describe, expect, it } from "vitest";
import { CoreError } from "@/lib/core/errors";
import { frameSections } from "@/lib/core/metrology/frame-sections";
import { functionalSize } from "@/lib/core/metrology/functional-size";
import { compileMeasurement, measureFrame } from "@/lib/core/metrology/measure-frame";
import { fullPlan } from "@/lib/core/metrology/measuring-plan";
import { monteCarloFunctionalSize } from "@/lib/core/metrology/monte-carlo-functional-size";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { PRESS_FIT_41 } from "@/lib/quality/demonstration-drawings";

const RAD = Math.PI / 180;
const plan = fullPlan(PRESS_FIT_41);
const compiled = compileMeasurement(plan, PRESS_FIT_41);

function shell(ovalMm: number, offsetUm: number): number[] {
  return plan.map((name) => {
    if (name.kind === "bore") return 40.975 + ovalMm * Math.cos(2 * (name.directionDeg - 25) * RAD);
    if (name.kind === "sweep")
      return offsetUm * Math.cos((name.angleDeg - 60) * RAD) + 500 * ovalMm * Math.cos(2 * (name.angleDeg - 25) * RAD);
    return name.kind === "face" ? 0 : 86.5;
  });
}

describe("monteCarloFunctionalSize", () => {
  it.each([
    ["oval seats with an offset", 0.02, 40],
    ["round seats in line, where many contacts are alike", 0, 0],
    ["round seats with a parallel offset", 0, 50],
  ])("agrees with draws that are solved in full: %s", (_, oval, offset) => {
    const values = shell(oval, offset);
    const fast = monteCarloFunctionalSize(PRESS_FIT_41, compiled, values, {
      draws: 10_000,
      generator: createSeededGenerator(41),
    });
    if (!fast.ok) throw new Error(fast.reason);
    // The slow obvious version: every draw's readings through measureFrame and the full search (datum and budget of the demonstration).
    const generator = createSeededGenerator(1);
    const draws = 400;
    const sizes = Array.from({ length: draws }, () => {
      const common = Math.hypot(0.75, 1.732, 1.717) * generator.normal();
      const read = values.map((value, i) => {
        const kind = plan[i]?.kind;
        if (kind === "bore") return value + (common + 1.5 * generator.normal()) / 1000;
        return kind === "sweep" ? value + 1.2 * generator.normal() : value;
      });
      const [slopeY, slopeZ] = [generator.normal(), generator.normal()].map((z) => (z * 0.23) / 1000 / 6);
      const sections = frameSections(PRESS_FIT_41, measureFrame(compiled, read)).map((section) =>
        section.seat === "ds"
          ? {
              ...section,
              centre: { y: (slopeY ?? 0) * (section.xMm - 5), z: (slopeZ ?? 0) * (section.xMm - 5) },
            }
          : section,
      );
      const size = functionalSize(sections);
      return size.ok ? size.value.diameterMm : NaN;
    });
    const mean = sizes.reduce((a, b) => a + b, 0) / draws;
    const sd = Math.sqrt(sizes.reduce((a, b) => a + (b - mean) ** 2, 0) / (draws - 1));
    expect(Math.abs(fast.value.standardUncertainty - sd)).toBeLessThan((3 * sd) / Math.sqrt(2 * draws));
    expect(Math.abs(fast.value.mean - mean)).toBeLessThan((3 * sd) / Math.sqrt(draws));
  });

  it("has no answer without a sweep, and refuses too few draws", () => {
    const bores = plan.filter(({ kind }) => kind === "bore");
    const short = compileMeasurement(bores, PRESS_FIT_41);
    const options = { draws: 100, generator: createSeededGenerator(1) };
    expect(
      monteCarloFunctionalSize(
        PRESS_FIT_41,
        short,
        bores.map(() => 40.975),
        options,
      ),
    ).toMatchObject({ ok: false });
    const none = plan.map(({ kind }) => (kind === "bore" ? null : 0));
    expect(monteCarloFunctionalSize(PRESS_FIT_41, compiled, none, options)).toMatchObject({ ok: false });
    expect(() => monteCarloFunctionalSize(PRESS_FIT_41, compiled, shell(0, 0), { ...options, draws: 99 })).toThrow(
      CoreError,
    );
  });
});
