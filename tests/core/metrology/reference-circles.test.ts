import fc from "fast-check";
import { readFileSync } from "node:fs";
import path from "node:path";
import { describe, expect, it } from "vitest";
import { CoreError } from "@/lib/core/errors";
import { leastSquaresCircle } from "@/lib/core/metrology/least-squares-circle";
import { type PlanePoint, pointsFromPolar } from "@/lib/core/metrology/plane-point";
import { referenceCircles } from "@/lib/core/metrology/reference-circles";
import { expectDigits } from "@/tests/helpers/expect-digits";

type CircleCase = {
  id: string;
  points: [number, number][];
  lsc: number[];
  sumSquares?: number;
  mzc?: number[];
  mzcZone?: number;
  mcc: number[];
  mic?: number[];
};
// Source: tests/reference/reference-circles.source.md
const reference = JSON.parse(
  readFileSync(path.join(import.meta.dirname, "../../reference/reference-circles.json"), "utf8"),
) as {
  circles: CircleCase[];
  harmonics: { anglesDeg: number[]; radii: number[]; lsc: number[]; mzcZone: number; mcc: number; mic: number };
};

const toPoints = (pairs: readonly (readonly [number, number])[]): PlanePoint[] => pairs.map(([y, z]) => ({ y, z }));

/** Fails unless `actual` equals the printed value to half a unit of the sixth decimal (one unit: computed, then rounded). */
function expectPrinted(actual: number, printed: number, unit = 1e-6): void {
  expect(Math.abs(actual - printed), `${actual} against ${printed}`).toBeLessThanOrEqual(unit);
}

function valueOf<T>(estimate: { ok: true; value: T } | { ok: false; reason: string }): T {
  if (!estimate.ok) throw new Error(estimate.reason);
  return estimate.value;
}

describe("points whose squares are beyond the range of numbers", () => {
  it("end in an error, not in an endless search", () => {
    const points = pointsFromPolar(
      [0, 45, 90, 135, 180, 225, 270, 315],
      [1, 2, 3, 1, 2, 3, 1, 2].map((r) => r * 1e297),
    );
    expect(() => leastSquaresCircle(points)).toThrow(CoreError);
  });
});

describe("referenceCircles on published sets", () => {
  it.each(reference.circles)("gives the printed circles of $id", (set) => {
    const circles = referenceCircles(toPoints(set.points));
    const { leastSquares, minimumCircumscribed } = circles;
    [leastSquares.centre.y, leastSquares.centre.z, leastSquares.radius].forEach((v, i) =>
      expectPrinted(v, set.lsc[i] ?? NaN),
    );
    if (set.sumSquares !== undefined) expectPrinted(leastSquares.sumSquares, set.sumSquares);
    const mcc = [minimumCircumscribed.centre.y, minimumCircumscribed.centre.z, minimumCircumscribed.radius];
    mcc.forEach((v, i) => expectPrinted(v, set.mcc[i] ?? NaN));
    if (set.mzc) {
      const zone = valueOf(circles.minimumZone);
      const mzc = [zone.centre.y, zone.centre.z, zone.outerRadius, zone.innerRadius];
      mzc.forEach((v, i) => expectPrinted(v, set.mzc?.[i] ?? NaN));
      expectPrinted(zone.zone, set.mzcZone ?? NaN);
    }
    if (set.mic) {
      const circle = valueOf(circles.maximumInscribed);
      [circle.centre.y, circle.centre.z, circle.radius].forEach((v, i) => expectPrinted(v, set.mic?.[i] ?? NaN));
    }
  });

  it("gives the circles of the twelve polar readings with known harmonics", () => {
    const { anglesDeg, radii, lsc, mzcZone, mcc, mic } = reference.harmonics;
    const circles = referenceCircles(pointsFromPolar(anglesDeg, radii));
    expectPrinted(circles.leastSquares.centre.y, lsc[0] ?? NaN);
    expectPrinted(circles.leastSquares.centre.z, lsc[1] ?? NaN);
    expectPrinted(circles.leastSquares.radius, lsc[2] ?? NaN);
    expectPrinted(valueOf(circles.minimumZone).zone, mzcZone);
    expectPrinted(circles.minimumCircumscribed.radius, mcc);
    expectPrinted(valueOf(circles.maximumInscribed).radius, mic);
  });

  it("solves the least squares circle of six points to 12 digits", () => {
    // Source: computed with 40 decimal digits, Newton's method on the six points of Gander, Golub, Strebel 1994.
    const fit = leastSquaresCircle(toPoints(reference.circles[0]?.points ?? []));
    expectDigits(fit.centre.y, 4.739782410906074, 12);
    expectDigits(fit.centre.z, 2.983532699292475, 12);
    expectDigits(fit.radius, 4.71422603779211, 12);
  });
});

/** Smallest and largest distance of the points from a centre: the slow obvious way. */
function extent(points: readonly PlanePoint[], y: number, z: number): [number, number] {
  const d = points.map((p) => Math.hypot(p.y - y, p.z - z));
  return [Math.min(...d), Math.max(...d)];
}

/** Least value of `goal` by a grid over a square and finer grids about its best cells. */
function exhaustive(goal: (y: number, z: number) => number, half: number): number {
  const cells: { y: number; z: number; value: number }[] = [];
  const steps = 30;
  for (let i = -steps; i <= steps; i++)
    for (let j = -steps; j <= steps; j++) {
      const [y, z] = [(i / steps) * half, (j / steps) * half];
      cells.push({ y, z, value: goal(y, z) });
    }
  cells.sort((a, b) => a.value - b.value);
  let best = Infinity;
  for (const start of cells.slice(0, 12)) {
    let at = start;
    for (let size = (1.5 * half) / steps; size > 1e-9 * half; size *= 0.6) {
      let next = at;
      for (let i = -4; i <= 4; i++)
        for (let j = -4; j <= 4; j++) {
          const [y, z] = [at.y + (i / 4) * size, at.z + (j / 4) * size];
          const value = goal(y, z);
          if (value < next.value) next = { y, z, value };
        }
      at = next;
    }
    best = Math.min(best, at.value);
  }
  return best;
}

// Points at n directions, uneven within their sectors, with up to 30 % form: far from round, so that local optima exist.
const roughSection = fc
  .integer({ min: 5, max: 12 })
  .chain((n) =>
    fc.array(fc.tuple(fc.double({ min: 0, max: 0.8, noNaN: true }), fc.double({ min: 0.7, max: 1, noNaN: true })), {
      minLength: n,
      maxLength: n,
    }),
  )
  .map((polar) =>
    polar.map(([shift, radius], i) => {
      const phi = ((i + shift) / polar.length) * 2 * Math.PI;
      return { y: radius * Math.cos(phi), z: radius * Math.sin(phi) };
    }),
  );

/** Exhaustive search takes a second or two, more where other work shares the machine. */
const SEARCH_TIMEOUT_MS = 60_000;

describe("referenceCircles against exhaustive search", () => {
  it(
    "finds the global optimum of all four circles on sections that are far from round",
    () => {
      fc.assert(
        fc.property(roughSection, (points) => {
          const circles = referenceCircles(points);
          const { leastSquares } = circles;
          const sumSquares = exhaustive((y, z) => {
            const d = points.map((p) => Math.hypot(p.y - y, p.z - z));
            const mean = d.reduce((a, b) => a + b, 0) / d.length;
            return d.reduce((sum, v) => sum + (v - mean) ** 2, 0);
          }, 1);
          expect(leastSquares.sumSquares).toBeLessThanOrEqual(sumSquares + 1e-12);

          const outer = exhaustive((y, z) => extent(points, y, z)[1], 1);
          const { centre, radius } = circles.minimumCircumscribed;
          expectDigits(radius, extent(points, centre.y, centre.z)[1], 12);
          expect(radius).toBeLessThanOrEqual(outer + 1e-12);
          // The search itself creeps along kinks: it only has to come close.
          expect(outer - radius).toBeLessThan(1e-3);

          const zone = valueOf(circles.minimumZone);
          const [near, far] = extent(points, zone.centre.y, zone.centre.z);
          expect(Math.abs(far - near - zone.zone)).toBeLessThan(1e-14);
          expect(zone.zone).toBeLessThanOrEqual(
            exhaustive((y, z) => {
              const [least, most] = extent(points, y, z);
              return most - least;
            }, 1) + 1e-12,
          );
          expect(zone.zone).toBeLessThanOrEqual(leastSquares.peak + leastSquares.valley);
        }),
        { seed: 41, numRuns: 25 },
      );
    },
    SEARCH_TIMEOUT_MS,
  );

  it(
    "finds the global minimum zone and inscribed circle of seats with micrometres of form",
    () => {
      const seat = fc
        .array(fc.double({ min: -0.01, max: 0.01, noNaN: true }), { minLength: 8, maxLength: 24 })
        .map((form) =>
          pointsFromPolar(
            form.map((_, i) => (i * 360) / form.length),
            form.map((v) => 20 + v),
          ),
        );
      // Form below 2e-11 mm counts as none.
      const SAME = 5e-11;
      fc.assert(
        fc.property(seat, (points) => {
          const circles = referenceCircles(points);
          const zone = valueOf(circles.minimumZone);
          const best = exhaustive((y, z) => {
            const [least, most] = extent(points, y, z);
            return most - least;
          }, 0.03);
          expect(zone.zone).toBeLessThanOrEqual(best + SAME);
          expect(best - zone.zone).toBeLessThan(1e-4);
          const inner = -exhaustive((y, z) => -extent(points, y, z)[0], 0.03);
          expect(valueOf(circles.maximumInscribed).radius).toBeGreaterThanOrEqual(inner - SAME);
          const outer = exhaustive((y, z) => extent(points, y, z)[1], 0.03);
          expect(circles.minimumCircumscribed.radius).toBeLessThanOrEqual(outer + SAME);
        }),
        { seed: 41, numRuns: 25 },
      );
    },
    SEARCH_TIMEOUT_MS,
  );

  it(
    "finds the largest inscribed circle of sections seen from all around",
    () => {
      fc.assert(
        fc.property(
          roughSection.filter((points) => points.length >= 8),
          (points) => {
            const circle = valueOf(referenceCircles(points).maximumInscribed);
            expectDigits(circle.radius, extent(points, circle.centre.y, circle.centre.z)[0], 12);
            // Within a third of the radius from the middle no centre can slip out between the points.
            const inner = -exhaustive((y, z) => (Math.hypot(y, z) > 0.33 ? 0 : -extent(points, y, z)[0]), 0.33);
            expect(circle.radius).toBeGreaterThanOrEqual(inner - 1e-12);
          },
        ),
        { seed: 41, numRuns: 25 },
      );
    },
    SEARCH_TIMEOUT_MS,
  );
});

describe("referenceCircles on seats with a known answer", () => {
  const seat = fc.record({
    count: fc.constantFrom(12, 24, 36),
    radius: fc.double({ min: 10, max: 40, noNaN: true }),
    y: fc.double({ min: -5, max: 5, noNaN: true }),
    z: fc.double({ min: -5, max: 5, noNaN: true }),
    start: fc.double({ min: 0, max: 360, noNaN: true }),
    lobe: fc.double({ min: 0.001, max: 0.05, noNaN: true }),
  });
  const near = (actual: number, expected: number) =>
    expect(Math.abs(actual - expected), `${actual} against ${expected}`).toBeLessThan(1e-9);

  it("returns centre and radius of round seats to 1e-9 mm in all four circles", () => {
    fc.assert(
      fc.property(seat, ({ count, radius, y, z, start }) => {
        const angles = Array.from({ length: count }, (_, i) => start + (i * 360) / count);
        const circles = referenceCircles(pointsFromPolar(angles, Array(count).fill(radius), { y, z }));
        const zone = valueOf(circles.minimumZone);
        const inscribed = valueOf(circles.maximumInscribed);
        for (const { centre } of [circles.leastSquares, zone, circles.minimumCircumscribed, inscribed]) {
          near(centre.y, y);
          near(centre.z, z);
        }
        near(circles.leastSquares.radius, radius);
        near(circles.minimumCircumscribed.radius, radius);
        near(inscribed.radius, radius);
        near(zone.zone, 0);
      }),
      { seed: 41, numRuns: 100 },
    );
  });

  it("returns centre, crests and valleys of a three-lobed seat whose lobes were read at their crests and valleys", () => {
    // Known answer: crests at radius + lobe and valleys at radius - lobe, three each, alternating.
    fc.assert(
      fc.property(seat, ({ count, radius, y, z, start, lobe }) => {
        const angles = Array.from({ length: count }, (_, i) => start + (i * 360) / count);
        const radii = angles.map((angle) => radius + lobe * Math.cos((3 * (angle - start) * Math.PI) / 180));
        const circles = referenceCircles(pointsFromPolar(angles, radii, { y, z }));
        near(circles.minimumCircumscribed.radius, radius + lobe);
        near(valueOf(circles.maximumInscribed).radius, radius - lobe);
        near(valueOf(circles.minimumZone).zone, 2 * lobe);
        near(valueOf(circles.minimumZone).centre.y, y);
      }),
      { seed: 41, numRuns: 100 },
    );
  });

  it("does not change under turning the clock, shift, mirror and scale", () => {
    const change = fc.record({
      turn: fc.double({ min: 0, max: 2 * Math.PI, noNaN: true }),
      y: fc.double({ min: -100, max: 100, noNaN: true }),
      z: fc.double({ min: -100, max: 100, noNaN: true }),
      mirror: fc.boolean(),
      exponent: fc.double({ min: -3, max: 3, noNaN: true }),
    });
    fc.assert(
      fc.property(roughSection, change, (points, { turn, y, z, mirror, exponent }) => {
        const scale = 10 ** exponent;
        const move = (p: PlanePoint): PlanePoint => {
          const mz = mirror ? -p.z : p.z;
          return {
            y: scale * (p.y * Math.cos(turn) - mz * Math.sin(turn) + y),
            z: scale * (p.y * Math.sin(turn) + mz * Math.cos(turn) + z),
          };
        };
        const before = referenceCircles(points);
        const after = referenceCircles(points.map(move));
        expectDigits(after.leastSquares.radius, scale * before.leastSquares.radius, 9);
        expectDigits(after.minimumCircumscribed.radius, scale * before.minimumCircumscribed.radius, 9);
        expectDigits(valueOf(after.minimumZone).zone, scale * valueOf(before.minimumZone).zone, 9);
        expect(after.maximumInscribed.ok).toBe(before.maximumInscribed.ok);
        if (before.maximumInscribed.ok)
          expectDigits(valueOf(after.maximumInscribed).radius, scale * before.maximumInscribed.value.radius, 9);
        const centre = move(before.leastSquares.centre);
        expect(Math.hypot(after.leastSquares.centre.y - centre.y, after.leastSquares.centre.z - centre.z)).toBeLessThan(
          1e-8 * scale,
        );
      }),
      { seed: 41, numRuns: 60 },
    );
  });
});

describe("circle fits on bad input", () => {
  const fits = [leastSquaresCircle, referenceCircles];
  const bad: [string, PlanePoint[], string][] = [
    ["no point", [], "too-few-values"],
    [
      "two points",
      toPoints([
        [0, 1],
        [1, 0],
      ]),
      "too-few-values",
    ],
    [
      "equal points",
      toPoints([
        [1, 1],
        [1, 1],
        [1, 1],
        [1, 1],
      ]),
      "degenerate",
    ],
    [
      "points on one line",
      toPoints([
        [0, 0],
        [1, 1],
        [2, 2],
        [5, 5],
      ]),
      "degenerate",
    ],
    [
      "points on one line far away",
      toPoints([
        [1e8, 1e8],
        [1e8 + 1, 1e8 + 1],
        [1e8 + 3, 1e8 + 3],
      ]),
      "degenerate",
    ],
    [
      "NaN",
      toPoints([
        [0, 1],
        [1, NaN],
        [1, 1],
      ]),
      "not-finite",
    ],
    [
      "an endless coordinate",
      toPoints([
        [0, 1],
        [1, Infinity],
        [1, 1],
      ]),
      "not-finite",
    ],
    [
      "the same point twice",
      toPoints([
        [0, 1],
        [1, 0],
        [0, -1],
        [1, 0],
      ]),
      "duplicate",
    ],
  ];
  it.each(bad)("refuses %s", (_, points, code) => {
    for (const fit of fits) {
      try {
        fit(Object.freeze(points) as PlanePoint[]);
        expect.unreachable(`${fit.name} accepted`);
      } catch (error) {
        expect(error).toBeInstanceOf(CoreError);
        expect((error as CoreError).code).toBe(code);
      }
    }
  });

  it("has no inscribed circle where the points lie on one side only", () => {
    const arc = pointsFromPolar([0, 20, 40, 60, 80], [20, 20.01, 20, 20.01, 20]);
    expect(referenceCircles(arc).maximumInscribed.ok).toBe(false);
  });

  it("refuses two readings in one direction, also when written as 0 and 360", () => {
    expect(() => pointsFromPolar([0, 120, 240, 360], [20, 20, 20, 20.1])).toThrow(CoreError);
    expect(() => pointsFromPolar([0, 120], [20])).toThrow(CoreError);
    expect(() => pointsFromPolar([0, 120], [20, NaN])).toThrow(CoreError);
  });

  it("works at scales from 1e-9 to 1e9 and far from the origin", () => {
    for (const scale of [1e-9, 1, 1e9]) {
      const points = toPoints([
        [0, scale],
        [scale, 0],
        [0, -scale],
        [-scale, 0.1 * scale],
      ]);
      expectDigits(
        leastSquaresCircle(points).radius / scale,
        leastSquaresCircle(
          toPoints([
            [0, 1],
            [1, 0],
            [0, -1],
            [-1, 0.1],
          ]),
        ).radius,
        9,
      );
    }
    const far = referenceCircles(pointsFromPolar([0, 90, 180, 270], [20, 20, 20, 20], { y: 1e8, z: -1e8 }));
    // A coordinate of 1e8 holds 1.5e-8 mm.
    expect(Math.abs(far.minimumCircumscribed.radius - 20)).toBeLessThan(1e-7);
  });
});
