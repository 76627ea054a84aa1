import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { type BoreMeasurement, type BoreReading, designBore, measureBore } from "@/lib/core/metrology/bore-seat";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { expectDigits } from "@/tests/helpers/expect-digits";
import reference from "@/tests/reference/seat-geometry.json";

const RAD = Math.PI / 180;

function readings(depthsMm: readonly number[], directionsDeg: readonly number[]): BoreReading[] {
  return depthsMm
    .flatMap((depthMm) => directionsDeg.map((directionDeg) => ({ depthMm, directionDeg })))
    .map((reading, index) => ({ index, ...reading }));
}

function measured(due: readonly BoreReading[], values: readonly (number | null)[]): BoreMeasurement {
  const bore = measureBore(designBore(due), Object.freeze([...values]));
  if (bore === null) throw new Error("no reading");
  return bore;
}

describe("measureBore", () => {
  it("sees the ovality of the published set synthetic-12 in its six diameters", () => {
    // geometry.json synthetic-12: A2 0.012009 at 24.98 degrees of the radius; diameters printed to 0.1 µm.
    const bore = measured(readings([2], [0, 30, 60, 90, 120, 150]), reference.harmonics.twoPointDiameters);
    const second = bore.sections[0]?.secondHarmonic;
    expect(Math.abs((second?.amplitudeUm ?? NaN) - 12.009)).toBeLessThan(0.05);
    expect(Math.abs((second?.positionDeg ?? NaN) - 24.98)).toBeLessThan(0.2);
    expectDigits(bore.largestMm, 41.9837, 15);
    expectDigits(bore.smallestMm, 41.9364, 15);
    // 4 A2 = 48.04 is more than the range of 47.3.
    expect(Math.abs((bore.ovalityUm ?? NaN) - 4 * 12.009)).toBeLessThan(0.2);
  });

  it("sees between 71 and 100 % of an oval by the range of four directions, and all of it by the 2nd harmonic", () => {
    const [low = NaN, high = NaN] = reference.harmonicBias.ovalitySeenByRangeOf4;
    fc.assert(
      fc.property(fc.double({ min: 0, max: 180, noNaN: true }), (at) => {
        const directions = [0, 45, 90, 135];
        const values = directions.map((d) => 41 + 2 * 0.01 * Math.cos(2 * (d - at) * RAD));
        const bore = measured(readings([2], directions), values);
        const share = bore.rangeUm / 40;
        expect(share).toBeGreaterThan(low - 0.005); // printed to two digits
        expect(share).toBeLessThan(high + 1e-9);
        // Known by construction: 4 x 10 µm, to 1e-9 mm.
        expect(Math.abs((bore.ovalityUm ?? NaN) - 40)).toBeLessThan(1e-6);
      }),
      { seed: 41, numRuns: 200 },
    );
  });

  it("is blind to odd lobes", () => {
    const directions = [0, 45, 90, 135];
    const radius = (d: number): number => 20.5 + 0.01 * Math.cos(3 * d * RAD);
    const bore = measured(
      readings([2], directions),
      directions.map((d) => radius(d) + radius(d + 180)),
    );
    expect(bore.ovalityUm ?? NaN).toBeLessThan(1e-6);
  });

  it("gives taper as the deepest section's mean minus the shallowest's, signed", () => {
    const due = readings([8, 2, 5], [0, 90]);
    const bore = measured(due, [40.97, 40.98, 40.96, 40.972, 41, 41]);
    // (40.975 - 40.966) mm by hand; the subtraction of 41 costs four of sixteen digits.
    expectDigits(bore.taperUm ?? NaN, 9, 10);
    expect(bore.sections.map(({ depthMm }) => depthMm)).toEqual([2, 5, 8]);
  });

  it("says which reading is the smallest and which the largest, the first of equals", () => {
    const bore = measured(readings([2], [0, 45, 90, 135]), [40.97, 40.96, 40.96, 40.98]);
    expect(bore).toMatchObject({ smallestMm: 40.96, smallestIndex: 1, largestMm: 40.98, largestIndex: 3 });
  });

  it("takes what is there when readings are missing", () => {
    const due = readings([2, 8], [0, 45, 90, 135]);
    const bore = measured(due, [41, null, 41, 41, null, null, null, null]);
    expect(bore.sections).toHaveLength(1);
    expect(bore.sections[0]).toMatchObject({ count: 3 });
    expect(bore.taperUm).toBeNull();
    expect(measureBore(designBore(due), new Array<null>(8).fill(null))).toBeNull();
  });

  it("has no ovality from one direction and no taper from one depth", () => {
    const bore = measured(readings([2], [0]), [41]);
    expect(bore).toMatchObject({ ovalityUm: null, ovalitySection: null, taperUm: null, rangeUm: 0 });
  });

  it("gives zero form for a perfectly round seat and keeps the mean of equal sizes", () => {
    const bore = measured(readings([2, 8], [0, 45, 90, 135]), new Array<number>(8).fill(40.973));
    expect(bore).toMatchObject({ meanMm: 40.973, rangeUm: 0, taperUm: 0 });
    expect(bore.ovalityUm).toBe(0);
  });

  it("does not judge the noise of three readings of a round seat as an oval", () => {
    const random = createSeededGenerator(31);
    const design = designBore(readings([2], [0, 60, 120]));
    const runs = 20_000;
    let swing = 0;
    for (let run = 0; run < runs; run += 1) {
      const values = [0, 1, 2].map(() => 41 + 0.0015 * random.normal());
      const fitted = measureBore(design, values)?.sections[0]?.fitted;
      if (fitted === null || fitted === undefined) throw new Error("no fitted size");
      swing += (500 * (fitted.largestMm - fitted.smallestMm)) / runs;
    }
    // Independently, by hand: each component of the swing has s = 1.5 sqrt(2 / 3) = 1.2247 µm, its square is 2 s^2 e with e
    // exponential; less its mean and not below 0: s sqrt(2) times the integral of sqrt(e - 1) exp(-e) from 1 = s sqrt(2) exp(-1)
    // sqrt(pi) / 2 = 0.565 µm. Left as it is, s sqrt(pi / 2) = 1.535 µm. Standard error 0.006.
    expect(Math.abs(swing - 0.565)).toBeLessThan(0.025);
  });

  it("gives an oval between three directions its smallest and largest size", () => {
    // 10 µm of swing, largest at 30 degrees: d = 41 + 0.010 cos 2 (x - 30), read 41.005, 41.005, 40.99; by the definition.
    const swing = (direction: number) => 41 + 0.01 * Math.cos(2 * (direction - 30) * RAD);
    const bore = measured(readings([2], [0, 60, 120]), [swing(0), swing(60), swing(120)]);
    const [section] = bore.sections;
    // The mean noise of 3 µm^2 is taken off the square: sqrt(100 - 3) = 9.849.
    expectDigits(section?.fitted?.largestMm ?? NaN, 41 + Math.sqrt(97) / 1000, 9);
    expectDigits(section?.fitted?.smallestMm ?? NaN, 41 - Math.sqrt(97) / 1000, 9);
    expect(section?.fitted?.largestDirectionDeg).toBeCloseTo(30, 6);
  });
});
