import { describe, expect, it } from "vitest";
import { enterWear, newWearLine, SILENT_FRAMES, wearForecast, wearResidual } from "@/lib/core/control/alarm/wear-line";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { expectDigits } from "@/tests/helpers/expect-digits";

const PRIOR = { level: { mean: 0, sd: 0.3 }, slope: { mean: -0.00463, sd: 0.0014 }, noiseSd: 1 };
const DIFFUSE = { level: { mean: 0, sd: Infinity }, slope: { mean: 0, sd: Infinity }, noiseSd: 1 };

describe("wearResidual", () => {
  it("gives the residuals that another program computed exactly for this prior", () => {
    // computed for this project by another program: level N(0, 0.3), slope N(-0.00463, 0.0014), noise 1, frames 1 to 4
    const expected = [0.483347, -0.992253, 1.976952, 0.154831];
    let line = newWearLine(PRIOR);
    [0.5, -1.0, 2.0, 0.25].forEach((value, at) => {
      const residual = wearResidual(line, at + 1, value) ?? Number.NaN;
      expect(Math.abs(residual - (expected[at] ?? 0))).toBeLessThan(5e-7);
      line = enterWear(line, at + 1, value);
    });
  });

  it("is standard normal and independent over lives that the prior describes", () => {
    const random = createSeededGenerator(5);
    let [sum, squares, products, count] = [0, 0, 0, 0];
    for (let life = 0; life < 300; life++) {
      const [level, slope] = [0.3 * random.normal(), -0.00463 + 0.0014 * random.normal()];
      let line = newWearLine(PRIOR);
      let before = 0;
      for (let age = 1; age <= 60; age++) {
        const value = level + slope * age + random.normal();
        const residual = wearResidual(line, age, value) ?? Number.NaN;
        line = enterWear(line, age, value);
        sum += residual;
        squares += residual ** 2;
        products += residual * before;
        count += 1;
        before = residual;
      }
    }
    // four standard errors of 18,000 independent standard normal values
    expect(Math.abs(sum / count)).toBeLessThan(4 / Math.sqrt(count));
    expect(Math.abs(squares / count - 1)).toBeLessThan(4 * Math.sqrt(2 / count));
    expect(Math.abs(products / count)).toBeLessThan(4 / Math.sqrt(count));
  });

  it("says nothing of a first life for 25 frames, then finds its line", () => {
    let line = newWearLine(DIFFUSE);
    for (let age = 1; age <= SILENT_FRAMES; age++) {
      expect(wearResidual(line, age, 10 - 0.1 * age)).toBeNull();
      line = enterWear(line, age, 10 - 0.1 * age);
    }
    // values on a line without scatter: the line itself, by hand
    const forecast = wearForecast(line, 30);
    expectDigits(forecast?.expected ?? Number.NaN, 7, 9);
    expectDigits(forecast?.slope ?? Number.NaN, -0.1, 9);
  });

  it("refuses a prior without scatter and a value that is none", () => {
    expect(() => newWearLine({ ...PRIOR, noiseSd: 0 })).toThrow("standard deviations must be above 0");
    expect(() => enterWear(newWearLine(PRIOR), 1, Number.NaN)).toThrow("must be finite");
  });
});
