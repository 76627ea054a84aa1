import { readFileSync } from "node:fs";
import path from "node:path";
import { describe, expect, it } from "vitest";
import { CoreError } from "@/lib/core/errors";
import { radialClearanceUm } from "@/lib/core/fit/clearance-class";
import { outerRacewayDiameterMm, runningClearance, type RunningClearanceInput } from "@/lib/core/fit/running-clearance";

// Source: tests/reference/press-fit.source.md
const { lame } = JSON.parse(readFileSync(path.join(import.meta.dirname, "../../reference/press-fit.json"), "utf8")) as {
  lame: { id: string; racewayContraction_um: number; infiniteHousing_racewayContraction_um: number }[];
};
const aluminium = { name: "aluminium", youngsModulusGpa: 68.9, poissonsRatio: 0.33, expansionPerMegakelvin: 23.6 };
const composite = { name: "carbon/epoxy", youngsModulusGpa: 50, poissonsRatio: 0.31, expansionPerMegakelvin: 2.5 };
const direct: RunningClearanceInput = {
  bearing: { boreMm: 30, outsideDiameterMm: 42 },
  clearanceUm: [13, 28],
  cup: null,
  shell: { outsideDiameterMm: 50, material: aluminium },
  interferenceUm: [40, 40],
};
const within = (actual: number, expected: number, unit: number) =>
  expect(Math.abs(actual - expected), `${actual} against ${expected}`).toBeLessThanOrEqual(unit);

describe("radialClearanceUm", () => {
  it("gives the classes by bore; a limit belongs to the lower range", () => {
    // Source: ISO 5753-1, through a free secondary table.
    expect(radialClearanceUm(20, "C2")).toEqual([0, 10]);
    expect(radialClearanceUm(24, "C4")).toEqual([20, 36]);
    expect(radialClearanceUm(25, "CN")).toEqual([5, 20]);
    expect(radialClearanceUm(30, "C3")).toEqual([13, 28]);
    expect(radialClearanceUm(30, "C4")).toEqual([23, 41]);
    expect(radialClearanceUm(35, "CN")).toEqual([6, 20]);
    expect(radialClearanceUm(40, "C3")).toEqual([15, 33]);
    expect(radialClearanceUm(10, "C4")).toEqual([14, 29]);
    expect(radialClearanceUm(17, "CN")).toEqual([3, 18]);
    expect(radialClearanceUm(25, "C5")).toEqual([30, 53]);
    expect(radialClearanceUm(50, "C3")).toEqual([18, 36]);
    expect(radialClearanceUm(65, "C2")).toEqual([1, 15]);
    expect(radialClearanceUm(80, "CN")).toEqual([10, 30]);
    expect(radialClearanceUm(100, "C5")).toEqual([75, 120]);
  });

  it("refuses bores without a row, other classes and NaN", () => {
    for (const bore of [6, 101, NaN]) expect(() => radialClearanceUm(bore, "CN")).toThrow(CoreError);
    expect(() => radialClearanceUm(25, "C6" as "C4")).toThrow(CoreError);
  });
});

describe("runningClearance", () => {
  it("takes the printed contraction from the clearance, finite wall and endless wall", () => {
    const printed = lame.find((c) => c.id === "bearing-in-al-50");
    const running = runningClearance(direct);
    expect(outerRacewayDiameterMm(30, 42)).toBeCloseTo(39.6, 12);
    within(running.meanLossFiniteWallUm, printed?.racewayContraction_um ?? NaN, 0.005);
    within(running.meanLossEndlessWallUm, printed?.infiniteHousing_racewayContraction_um ?? NaN, 0.005);
    // By hand from the printed contractions: 13 - 32.84, 20.5 - (19.40 + 32.84) / 2, 28 - 19.40.
    within(running.clearance.minUm, -19.84, 0.005);
    within(running.clearance.meanUm, -5.62, 0.006);
    within(running.clearance.maxUm, 8.6, 0.005);
    expect(running.verdict).toBe("drags");
  });

  it("runs free without interference and is preloaded where the fit takes all", () => {
    const loose = runningClearance({ ...direct, interferenceUm: [-20, 0] });
    expect(loose.clearance).toEqual({ minUm: 13, meanUm: 20.5, maxUm: 28 });
    expect(loose.verdict).toBe("runs free");
    expect(runningClearance({ ...direct, clearanceUm: [0, 5] }).verdict).toBe("preloaded");
  });

  it("loses less through a cup than by the same interference on the bearing itself", () => {
    const cup = { outsideDiameterMm: 41, wallMm: 2, material: aluminium };
    const shell = { outsideDiameterMm: 49, material: composite };
    const bearing = { boreMm: 25, outsideDiameterMm: 37 };
    const through = runningClearance({ ...direct, bearing, shell, cup, interferenceUm: [25, 36] });
    const straight = runningClearance({
      ...direct,
      bearing,
      shell: { ...shell, outsideDiameterMm: 45 },
      interferenceUm: [25, 36],
    });
    expect(through.loss.meanUm).toBeGreaterThan(0);
    expect(through.loss.meanUm).toBeLessThan(straight.loss.meanUm);
    expect(through.loss.minUm).toBeLessThan(through.loss.meanUm);
    expect(through.loss.meanUm).toBeLessThan(through.loss.maxUm);
  });

  it("loosens in a warm shell that grows more than the bearing", () => {
    // By hand: 42 mm, (12 - 23.6) 1e-6 / K, 20 K: interference 40 - 9.744 = 30.256 µm, and the loss is in proportion.
    const warm = runningClearance({ ...direct, warmerByK: 20 });
    const cold = runningClearance(direct);
    within(warm.loss.meanUm / cold.loss.meanUm, 30.256 / 40, 1e-9);
  });

  it("refuses a shell smaller than its seat, a cup without wall, bands the wrong way round and NaN", () => {
    const bad: RunningClearanceInput[] = [
      { ...direct, shell: { outsideDiameterMm: 42, material: aluminium } },
      { ...direct, shell: { outsideDiameterMm: 30, material: aluminium } },
      { ...direct, cup: { outsideDiameterMm: 46, wallMm: -2, material: aluminium } },
      { ...direct, cup: { outsideDiameterMm: 46, wallMm: 1, material: aluminium } },
      { ...direct, interferenceUm: [40, 20] },
      { ...direct, clearanceUm: [NaN, 20] },
      { ...direct, warmerByK: NaN },
    ];
    for (const input of bad) expect(() => runningClearance(input)).toThrow(CoreError);
  });
});
