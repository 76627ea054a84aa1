import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { clippedReadings, type SweptReading } from "@/lib/core/metrology/clipped-sweep";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";

const RADIANS = Math.PI / 180;
const UNKNOWN = { range: null, resolutionUm: null };

type Turned = {
  angles?: number;
  amplitude: number;
  position?: number;
  ovalUm?: number;
  trilobeUm?: number;
  stepUm?: number;
  noise?: () => number;
  zero?: number;
};

/** What an indicator shows about a turning centre: computed from the definition of the sweep. */
function sweep({
  angles = 8,
  amplitude,
  position = 0,
  ovalUm = 0,
  trilobeUm = 0,
  stepUm = 1,
  noise = () => 0,
  zero = 0,
}: Turned): SweptReading[] {
  return Array.from({ length: angles }, (_, at) => {
    const angleDeg = (360 / angles) * at;
    const um =
      zero +
      amplitude * Math.cos((angleDeg - position) * RADIANS) +
      ovalUm * Math.cos(2 * (angleDeg - 31) * RADIANS) +
      trilobeUm * Math.cos(3 * (angleDeg - 17) * RADIANS) +
      noise();
    return { angleDeg, value: Math.round(um / stepUm) * stepUm };
  });
}

/** The same with a stop at `upper`. */
const stopped = (readings: readonly SweptReading[], upper: number): SweptReading[] =>
  readings.map((one) => ({ ...one, value: Math.min(one.value, upper) }));

describe("clippedReadings", () => {
  it("finds what stands at the end of a known travel, even one reading", () => {
    const readings = stopped(sweep({ amplitude: 100 }), 80);
    const range = { lower: -80, upper: 80 };
    // What lies beyond the other end, -100 at 6 o'clock, is refused before anybody asks for stops.
    expect(clippedReadings(readings, { range, resolutionUm: 1 })).toEqual([{ end: "large", places: [0], atUm: 80 }]);
    expect(clippedReadings(sweep({ amplitude: 70 }), { range, resolutionUm: 1 })).toEqual([]);
  });

  it("takes one reading of 0 for the zero of the indicator where its travel begins there, two for its stop", () => {
    const range = { lower: 0, upper: 800 };
    const good = sweep({ amplitude: 60, zero: 60 });
    expect(good.some(({ value }) => value === 0)).toBe(true);
    expect(clippedReadings(good, { range, resolutionUm: 1 })).toEqual([]);
    const cut = good.map((one) => ({ ...one, value: Math.max(0, one.value - 40) }));
    expect(clippedReadings(cut, { range, resolutionUm: 1 })).toMatchObject([{ end: "small", places: [3, 4, 5] }]);
  });

  it("finds a flat top where the travel is unknown or its zero was moved", () => {
    const readings = stopped(sweep({ amplitude: 150, position: 45 }), 60);
    expect(readings.filter(({ value }) => value === 60)).toHaveLength(3);
    expect(clippedReadings(readings, UNKNOWN)).toMatchObject([{ end: "large", places: [0, 1, 2] }]);
    expect(clippedReadings(readings, { range: { lower: -400, upper: 400 }, resolutionUm: 1 })).toHaveLength(1);
    const below = readings.map((one) => ({ ...one, value: -one.value }));
    expect(clippedReadings(below, UNKNOWN)).toMatchObject([{ end: "small" }]);
  });

  it("finds it across 12 o'clock, with the closing reading", () => {
    const open = stopped(sweep({ amplitude: 150, angles: 12 }), 90);
    const readings = [...open, { angleDeg: 360, value: 90 }];
    // 150 cos 30 = 130 and 150 cos 60 = 75: 11, 12 and 1 o'clock stand at the stop.
    expect(clippedReadings(readings, UNKNOWN)).toEqual([{ end: "large", places: [0, 1, 11, 12], atUm: 90 }]);
  });

  it("leaves equal readings about a real turning point alone, fine or coarse", () => {
    // 92.4 at both angles beside 22.5 degrees; 24 angles show the same ten three times.
    expect(clippedReadings(sweep({ amplitude: 100, position: 22.5 }), UNKNOWN)).toEqual([]);
    expect(clippedReadings(sweep({ amplitude: 60, angles: 24, stepUm: 10 }), UNKNOWN)).toEqual([]);
    expect(clippedReadings(sweep({ amplitude: 12, angles: 12, stepUm: 10 }), UNKNOWN)).toEqual([]);
    expect(clippedReadings(sweep({ amplitude: 0 }), UNKNOWN)).toEqual([]);
    expect(clippedReadings([], UNKNOWN)).toEqual([]);
    expect(clippedReadings([{ angleDeg: 0, value: 5 }], UNKNOWN)).toEqual([]);
  });

  // Seeds that chose no threshold; each bound is that of all of them together, so that no one is picked.
  const SEEDS = [101, 202, 303, 404, 505];

  it("accuses fewer than 1 in 2,000 true sweeps with form and noise, whatever the step", () => {
    // Shells within their limits (invented): ovality to 25 µm is 6 µm of radius, three lobes to 6 µm, noise 1.2 µm.
    const runs = 8_000;
    let accused = 0;
    for (const seed of SEEDS) {
      const random = createSeededGenerator(seed);
      for (let run = 0; run < runs; run += 1) {
        const readings = sweep({
          angles: [6, 8, 12, 16, 24][run % 5] ?? 8,
          amplitude: 120 * random.uniform(),
          position: 360 * random.uniform(),
          ovalUm: 6 * random.uniform(),
          trilobeUm: 6 * random.uniform(),
          stepUm: [0.5, 1, 2, 5, 10][Math.floor(run / 5) % 5] ?? 1,
          noise: () => 1.2 * random.normal(),
        });
        accused += clippedReadings(readings, UNKNOWN).length;
      }
    }
    // Three standard errors of a count above the 1 in 2,000.
    const expected = (SEEDS.length * runs) / 2_000;
    expect(accused).toBeLessThan(expected + 3 * Math.sqrt(expected));
  });

  it("finds nearly every sweep of which a stop cuts off three readings and 30 µm or more", () => {
    let cut = 0;
    let found = 0;
    for (const seed of SEEDS) {
      const random = createSeededGenerator(seed);
      for (let run = 0; run < 2_000; run += 1) {
        const readings = sweep({
          angles: run % 2 === 0 ? 8 : 12,
          amplitude: 80 + 120 * random.uniform(),
          position: 360 * random.uniform(),
          ovalUm: 4 * random.uniform(),
          noise: () => 1.2 * random.normal(),
        });
        const top = Math.max(...readings.map(({ value }) => value));
        const stop = Math.round(top - 30 - 40 * random.uniform());
        const short = stopped(readings, stop);
        if (short.filter(({ value }) => value === stop).length < 3) continue;
        cut += 1;
        found += clippedReadings(short, UNKNOWN).length;
      }
    }
    expect(cut).toBeGreaterThan(2_500);
    expect(found / cut).toBeGreaterThan(0.95);
  });

  it("does not depend on the zero, the order or the turn of the shell", () => {
    fc.assert(
      fc.property(fc.integer({ min: -300, max: 300 }), fc.integer({ min: 0, max: 7 }), (zero, turn) => {
        const readings = stopped(sweep({ amplitude: 150, position: 45 * turn }), 60);
        const moved = readings.map((one) => ({ ...one, value: one.value + zero })).reverse();
        return clippedReadings(moved, UNKNOWN).length === 1;
      }),
      { seed: 11 },
    );
  });

  it("refuses what is no number", () => {
    expect(() => clippedReadings([{ angleDeg: 0, value: NaN }], UNKNOWN)).toThrow("must be finite");
  });
});
