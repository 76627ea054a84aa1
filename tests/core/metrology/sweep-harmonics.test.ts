import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { CoreError } from "@/lib/core/errors";
import { designSweep, fitSweep, measureSweep, sweepOrder, type SweepFit } from "@/lib/core/metrology/sweep-harmonics";
import { expectDigits } from "@/tests/helpers/expect-digits";
import reference from "@/tests/reference/seat-geometry.json";

const RAD = Math.PI / 180;
const SEED = { seed: 41, numRuns: 200 };

function fitted(anglesDeg: readonly number[], readings: readonly number[]): SweepFit {
  const result = measureSweep(Object.freeze([...anglesDeg]), Object.freeze([...readings]));
  if (!result.ok) throw new Error(result.reason);
  return result.value;
}

describe("measureSweep against the published set synthetic-12", () => {
  const { anglesDeg, radii, mean, a1, a2, a3 } = reference.harmonics;
  const fit = fitted(
    anglesDeg,
    radii.map((r) => r * 1000),
  );

  it("gives mean, offset, ovality and lobes to the printed digits", () => {
    // Printed to 1e-6 mm and 0.01 degrees.
    expect(Math.abs(fit.fit.mean / 1000 - mean)).toBeLessThan(6e-7);
    [a1, a2, a3].forEach(([amplitude, position], i) => {
      const harmonic = fit.fit.harmonics[i];
      expect(Math.abs((harmonic?.amplitude ?? NaN) / 1000 - (amplitude ?? NaN))).toBeLessThan(6e-7);
      expect(Math.abs((harmonic?.positionDeg ?? NaN) - (position ?? NaN))).toBeLessThan(6e-3);
    });
  });

  it("takes the order that twelve angles allow and leaves at least two degrees of freedom", () => {
    expect(fit.fit.harmonics).toHaveLength(4);
    expect(fit.fit.degreesOfFreedom).toBe(3);
    for (let k = 5; k < 60; k += 1) expect(k - 1 - 2 * sweepOrder(k)).toBeGreaterThanOrEqual(2);
  });
});

describe("measureSweep on synthetic seats with a known answer", () => {
  const seat = fc.record({
    e: fc.double({ min: 0.1, max: 300, noNaN: true }),
    at: fc.double({ min: 0, max: 360, noNaN: true }),
    a2: fc.double({ min: 0, max: 40, noNaN: true }),
    at2: fc.double({ min: 0, max: 180, noNaN: true }),
    zero: fc.double({ min: -2000, max: 2000, noNaN: true }),
    jitter: fc.array(fc.double({ min: -12, max: 12, noNaN: true }), { minLength: 8, maxLength: 8 }),
  });
  type Seat = { e: number; at: number; a2: number; at2: number; zero: number; jitter: number[] };
  const angles = (s: Seat): number[] => s.jitter.map((j, i) => 20 + i * 40 + j);
  const reading = (s: Seat, angle: number): number =>
    s.zero + s.e * Math.cos((angle - s.at) * RAD) + s.a2 * Math.cos(2 * (angle - s.at2) * RAD);
  const sweep = (s: Seat, turn = 0, scale = 1, shift = 0): SweepFit =>
    fitted(
      angles(s),
      angles(s).map((a) => shift + scale * reading(s, a - turn)),
    );

  it("finds the offset at any spacing to 1e-9 mm", () => {
    fc.assert(
      fc.property(seat, (s) => {
        const fit = sweep(s);
        // Known by construction; 1e-9 mm is 1e-6 µm.
        expect(Math.abs(fit.towards12Um - s.e * Math.cos(s.at * RAD))).toBeLessThan(1e-6);
        expect(Math.abs(fit.towards3Um - s.e * Math.sin(s.at * RAD))).toBeLessThan(1e-6);
        expect(Math.abs((fit.fit.harmonics[1]?.amplitude ?? NaN) - s.a2)).toBeLessThan(1e-6);
      }),
      SEED,
    );
  });

  it("turns with the clock, ignores the zero, follows the scale", () => {
    fc.assert(
      fc.property(
        seat,
        fc.double({ min: -180, max: 180, noNaN: true }),
        fc.constantFrom(1e-3, 0.1, 10, 1e3),
        (s, turn, scale) => {
          const plain = sweep(s);
          const turned = sweep(s, turn);
          const moved = sweep(s, 0, scale, 77);
          expect(Math.abs(turned.offsetUm - plain.offsetUm)).toBeLessThan(1e-6);
          const rotated = plain.towards12Um * Math.cos(turn * RAD) - plain.towards3Um * Math.sin(turn * RAD);
          expect(Math.abs(turned.towards12Um - rotated)).toBeLessThan(1e-6);
          expect(Math.abs(moved.offsetUm / scale - plain.offsetUm)).toBeLessThan(1e-6 / Math.min(scale, 1));
        },
      ),
      SEED,
    );
  });

  it("mirrors with the side of view: the part towards 12 stays, that towards 3 changes sign", () => {
    fc.assert(
      fc.property(seat, (s) => {
        const plain = sweep(s);
        const mirrored = fitted(
          angles(s).map((a) => 360 - a),
          angles(s).map((a) => reading(s, a)),
        );
        expect(Math.abs(mirrored.towards12Um - plain.towards12Um)).toBeLessThan(1e-6);
        expect(Math.abs(mirrored.towards3Um + plain.towards3Um)).toBeLessThan(1e-6);
      }),
      SEED,
    );
  });
});

describe("measureSweep at the edges", () => {
  it("gives the offset of three angles without a standard error", () => {
    const fit = fitted([0, 120, 240], [10, -5, -5]);
    // 10 cos(phi) by construction.
    expectDigits(fit.offsetUm, 10, 12);
    expect(fit.standardErrorUm).toBeNull();
    expect(fit.fit.outlierDetectable).toBe(false);
  });

  it("is not estimable from two angles, or from one angle again and again", () => {
    expect(measureSweep([0, 180], [1, 2])).toMatchObject({ ok: false });
    expect(measureSweep([30, 30, 30, 30], [5, 5, 5, 5])).toMatchObject({ ok: false });
  });

  it("refuses one angle with two readings, readings that are no numbers, unequal lengths and angles off the circle", () => {
    expect(() => measureSweep([0, 90, 90, 180], [1, 2, 3, 4])).toThrow(/angle 90 must have one reading/);
    expect(() => measureSweep([0, 90, 180], [1, NaN, 3])).toThrow(CoreError);
    expect(() => measureSweep([0, 90, 180], [1, Infinity, 3])).toThrow(CoreError);
    expect(() => measureSweep([0, 90, 180], [1, 2])).toThrow(CoreError);
    expect(() => measureSweep([0, 90, 400], [1, 2, 3])).toThrow(CoreError);
  });

  it("compares the closing reading with the first one", () => {
    const design = designSweep([0, 90, 180, 270, 360]);
    if (!design.ok) throw new Error(design.reason);
    const good = fitSweep(design.value, [10, 0, -10, 0, 13]);
    expect(good).toMatchObject({ closingErrorUm: 3, closes: true });
    expect(fitSweep(design.value, [10, 0, -10, 0, 14])).toMatchObject({ closingErrorUm: 4, closes: false });
    // The closing reading is a check, no fifth point.
    expectDigits(good.offsetUm, 10, 12);
    expect(fitSweep(design.value, [10, 0, -10, 0, 14], 5).closes).toBe(true);
  });

  it("shows twice the noise of a centred section as coaxiality: 1.5 µm in the mean", () => {
    // harmonicBias of geometry.json: 8 angles, noise sd 1.2 µm; Rayleigh mean 1.2 sqrt(2 / 8) sqrt(pi / 2) x 2 = 1.504.
    let state = 7;
    const uniform = (): number => {
      state = (state * 48271) % 2147483647;
      return state / 2147483647;
    };
    const design = designSweep([0, 45, 90, 135, 180, 225, 270, 315]);
    if (!design.ok) throw new Error(design.reason);
    let sum = 0;
    const draws = 20_000;
    for (let i = 0; i < draws; i += 1) {
      const noise = Array.from(
        { length: 8 },
        () => 1.2 * Math.sqrt(-2 * Math.log(uniform())) * Math.cos(2 * Math.PI * uniform()),
      );
      sum += 2 * fitSweep(design.value, noise).offsetUm;
    }
    // Printed to one decimal; standard error of the mean is 0.006.
    expect(Math.abs(sum / draws - reference.harmonicBias.twiceOffsetOfACentredSection_um)).toBeLessThan(0.05);
  });
});
