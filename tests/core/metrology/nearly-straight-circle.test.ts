import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { leastSquaresCircle } from "@/lib/core/metrology/least-squares-circle";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { expectDigits } from "../../helpers/expect-digits";

/** Points of an arc of length about 2 about a place and a direction, lifted off it by so much. */
function arc(radius: number, angle: number, noise = 0) {
  const random = createSeededGenerator(5);
  return Array.from({ length: 9 }, (_, i) => {
    const turn = (-1 + i / 4) / radius;
    const along = radius * Math.sin(turn);
    const across = 2 * radius * Math.sin(turn / 2) ** 2 + noise * random.normal();
    return {
      y: along * Math.cos(angle) - across * Math.sin(angle),
      z: along * Math.sin(angle) + across * Math.cos(angle),
    };
  });
}

describe("leastSquaresCircle on nearly straight points", () => {
  it("finds the radius to the digits that the points carry, whichever way they lie", () => {
    for (const radius of [1e2, 1e4, 1e5, 1e6])
      for (const angle of [0, 0.3, 0.7, 1.6, 2.9]) {
        // the height of the arc is 1 / (2 R) of its length, known to about 1e-16
        const digits = Math.min(11, 14 - Math.log10(radius));
        expectDigits(leastSquaresCircle(arc(radius, angle)).radius, radius, digits);
      }
  });

  it("is the parabola's curvature for scattered points on a flat arc", () => {
    // least squares of a + b x + c x^2 in exact normal equations, independent of the circle: R = 1 / (2 c) as R grows
    for (const radius of [1e4, 1e5]) {
      const points = arc(radius, 0, 1e-3 / radius);
      const sums = [0, 1, 2, 3, 4].map((power) => points.reduce((sum, { y }) => sum + y ** power, 0));
      const heights = [0, 1, 2].map((power) => points.reduce((sum, { y, z }) => sum + z * y ** power, 0));
      const [s0, s2, s4] = [sums[0]!, sums[2]!, sums[4]!];
      const curvature = (2 * (s0 * heights[2]! - s2 * heights[0]!)) / (s0 * s4 - s2 * s2);
      expectDigits(leastSquaresCircle(points).radius, 1 / curvature, 7);
      expectDigits(leastSquaresCircle(arc(radius, 0.7, 1e-3 / radius)).radius, 1 / curvature, 6);
    }
  });

  it("moves and grows with the points", () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0, max: 6.28, noNaN: true }),
        fc.double({ min: -3, max: 3, noNaN: true }),
        (angle, power) => {
          const scale = 10 ** power;
          const points = arc(30, 0.2, 1e-4);
          const moved = points.map(({ y, z }) => ({
            y: scale * (y * Math.cos(angle) - z * Math.sin(angle) + 4),
            z: scale * (y * Math.sin(angle) + z * Math.cos(angle) - 7),
          }));
          expectDigits(leastSquaresCircle(moved).radius / scale, leastSquaresCircle(points).radius, 9);
        },
      ),
      { seed: 3, numRuns: 60 },
    );
  });
});
