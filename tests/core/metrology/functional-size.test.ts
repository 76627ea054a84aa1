import fc from "fast-check";
import { readFileSync } from "node:fs";
import path from "node:path";
import { describe, expect, it } from "vitest";
import { CoreError } from "@/lib/core/errors";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { functionalSize, type PairCylinder, smallestReam } from "@/lib/core/metrology/functional-size";
import type { PlanePoint } from "@/lib/core/metrology/plane-point";
import type { HarmonicSection, PointSection, RadiusHarmonic, SeatSection } from "@/lib/core/metrology/seat-section";
import { expectDigits } from "@/tests/helpers/expect-digits";

// Source: tests/reference/functional-size.source.md
const reference = JSON.parse(
  readFileSync(path.join(import.meta.dirname, "../../reference/functional-size.json"), "utf8"),
) as { pair: { id: string; largestBar: string; smallestReam: string; tiltArcmin?: number }[] };

type SectionOptions = { centre?: PlanePoint | null; diameter?: number; harmonics?: RadiusHarmonic[]; width?: number };

function section(seat: "ds" | "nds", depthMm: number, options: SectionOptions = {}): HarmonicSection {
  const { centre = { y: 0, z: 0 }, diameter = 41, harmonics = [], width = 86.5 } = options;
  const xMm = seat === "ds" ? depthMm : width - depthMm;
  return { shape: "harmonic", seat, depthMm, xMm, centre, radiusMm: diameter / 2, harmonics };
}

/** Round seats of one diameter, the NDS seat parallel and offset. */
function offsetPair(depths: readonly [number, number], offset: PlanePoint, diameter = 41, width = 86.5): SeatSection[] {
  return [
    ...depths.map((depth) => section("ds", depth, { diameter, width })),
    ...depths.map((depth) => section("nds", depth, { centre: offset, diameter, width })),
  ];
}

function solved(estimate: ReturnType<typeof functionalSize>): PairCylinder {
  if (!estimate.ok) throw new Error(estimate.reason);
  return estimate.value;
}

const near = (actual: number, expected: number, within = 1e-9) =>
  expect(Math.abs(actual - expected), `${actual} against ${expected}`).toBeLessThanOrEqual(within);

/** "D - 0.0039" -> -0.0039 */
const printedStep = (text: string) => Number(text.replace("D", "").replaceAll(" ", ""));

describe("functionalSize and smallestReam of round seats", () => {
  it.each([
    ["parallel-offset-2-8", [2, 8]],
    ["parallel-offset-0-12", [0, 12]],
  ] as const)("gives the printed bar and ream of %s", (id, depths) => {
    const printed = reference.pair.find((p) => p.id === id);
    const sections = offsetPair(depths, { y: 0.05, z: 0 });
    const bar = solved(functionalSize(sections));
    near(bar.diameterMm - 41, printedStep(printed?.largestBar ?? ""), 0.00005);
    near(solved(smallestReam(sections)).diameterMm - 41, printedStep(printed?.smallestReam ?? ""), 0.00005);
    if (printed?.tiltArcmin !== undefined) near(bar.tiltArcmin, printed.tiltArcmin, 0.005);
  });

  it("gives the closed form for a parallel offset in any direction to 1e-9 mm", () => {
    // Best line in the plane of the offset e (Chebyshev): all four sections miss it by e (b - a) / (2 (W - a - b)).
    const any = fc.record({
      a: fc.double({ min: 0, max: 5, noNaN: true }),
      length: fc.double({ min: 2, max: 10, noNaN: true }),
      width: fc.double({ min: 60, max: 125, noNaN: true }),
      offset: fc.double({ min: 0.001, max: 0.3, noNaN: true }),
      clock: fc.double({ min: 0, max: 2 * Math.PI, noNaN: true }),
      diameter: fc.double({ min: 30, max: 50, noNaN: true }),
    });
    fc.assert(
      fc.property(any, ({ a, length, width, offset, clock, diameter }) => {
        const b = a + length;
        const centre = { y: offset * Math.cos(clock), z: offset * Math.sin(clock) };
        const sections = offsetPair([a, b], centre, diameter, width);
        const miss = (offset * (b - a)) / (width - a - b);
        near(solved(functionalSize(sections)).diameterMm, diameter - miss);
        near(solved(smallestReam(sections)).diameterMm, diameter + miss);
      }),
      { seed: 41, numRuns: 60 },
    );
  });

  it("touches the inner edges towards the other seat's offset and the outer edges opposite", () => {
    // NDS seat towards 4 o'clock (120 degrees): the bar leans that way going from DS to NDS.
    const offset = { y: 0.05 * Math.cos((120 * Math.PI) / 180), z: 0.05 * Math.sin((120 * Math.PI) / 180) };
    const { contacts } = solved(functionalSize(offsetPair([2, 8], offset)));
    const clockOfContact = (seat: string, depth: number) =>
      contacts.find((c) => c.seat === seat && c.depthMm === depth)?.clockDeg ?? NaN;
    near(clockOfContact("ds", 8), 120, 0.5);
    near(clockOfContact("ds", 2), 300, 0.5);
    near(clockOfContact("nds", 8), 300, 0.5);
    near(clockOfContact("nds", 2), 120, 0.5);
    near(
      contacts.reduce((sum, c) => sum + c.share, 0),
      1,
      1e-6,
    );
  });

  it("gives the smaller diameter as bar and the larger as ream where all centres lie on one line", () => {
    const line = (x: number) => ({ y: 0.1 + 0.0004 * x, z: -0.2 + 0.0001 * x });
    const sections = [
      section("ds", 2, { centre: line(2), diameter: 40.98 }),
      section("ds", 8, { centre: line(8), diameter: 40.985 }),
      section("nds", 8, { centre: line(78.5), diameter: 40.97 }),
      section("nds", 2, { centre: line(84.5), diameter: 40.975 }),
    ];
    near(solved(smallestReam(sections)).diameterMm, 40.985);
    near(solved(functionalSize(sections)).diameterMm, 40.97);
  });
});

describe("functionalSize and smallestReam of seats with form", () => {
  it("takes the valleys for the bar and the crests for the ream of coaxial lobed seats", () => {
    for (const order of [2, 3, 5]) {
      const harmonics = [{ order, amplitudeMm: 0.01, phaseDeg: 17 }];
      const sections = (["ds", "nds"] as const).flatMap((seat) => [2, 8].map((d) => section(seat, d, { harmonics })));
      near(solved(functionalSize(sections)).diameterMm, 41 - 0.02, 1e-7);
      near(solved(smallestReam(sections)).diameterMm, 41 + 0.02, 1e-7);
    }
  });

  const measured = fc
    .record({
      radii: fc.array(fc.double({ min: -0.02, max: 0.02, noNaN: true }), { minLength: 48, maxLength: 48 }),
      offset: fc.double({ min: 0, max: 0.1, noNaN: true }),
      clock: fc.double({ min: 0, max: 6.28, noNaN: true }),
    })
    .map(({ radii, offset, clock }): PointSection[] =>
      [2, 8, 78.5, 84.5].map((xMm, k) => ({
        shape: "points",
        seat: k < 2 ? "ds" : "nds",
        depthMm: k < 2 ? xMm : 86.5 - xMm,
        xMm,
        points: Array.from({ length: 12 }, (_, i) => {
          const phi = (i * Math.PI) / 6;
          const r = 20.5 + (radii[k * 12 + i] ?? 0);
          const e = k < 2 ? 0 : offset;
          return { y: e * Math.cos(clock) + r * Math.cos(phi), z: e * Math.sin(clock) + r * Math.sin(phi) };
        }),
      })),
    );

  /** Smallest and largest distance of all points from an axis. */
  function reach(sections: readonly PointSection[], axis: readonly number[]): [number, number] {
    const d = sections.flatMap(({ xMm, points }) => {
      const [y = 0, z = 0, sy = 0, sz = 0] = axis;
      return points.map((p) => Math.hypot(p.y - y - sy * (xMm - 43.25), p.z - z - sz * (xMm - 43.25)));
    });
    return [Math.min(...d), Math.max(...d)];
  }

  /** Best axis by a pattern search in four unknowns from a start. */
  function search(goal: (axis: readonly number[]) => number, start: readonly number[]): number {
    let at = [...start];
    let best = goal(at);
    const directions = [0, 1, 2, 3].flatMap((k) => [1, -1].map((s) => [0, 1, 2, 3].map((j) => (j === k ? s : 0))));
    for (const signs of Array.from({ length: 16 }, (_, i) => [0, 1, 2, 3].map((k) => ((i >> k) & 1 ? 1 : -1))))
      directions.push(signs);
    for (let size = 0.02; size > 1e-7; size *= 0.7)
      for (const direction of directions) {
        const next = at.map((v, k) => v + (direction[k] ?? 0) * size * (k < 2 ? 1 : 1 / 40));
        const value = goal(next);
        if (value < best) [at, best] = [next, value];
      }
    return best;
  }

  it("is never beaten by a pattern search over axes on measured points", () => {
    fc.assert(
      fc.property(measured, (sections) => {
        const bar = solved(functionalSize(sections));
        const ream = solved(smallestReam(sections));
        for (const cylinder of [bar, ream]) {
          const { axisAtZero: o, slope: s } = cylinder;
          const axis = [o.y + 43.25 * s.y, o.z + 43.25 * s.z, s.y, s.z];
          near(cylinder.diameterMm, 2 * (reach(sections, axis)[cylinder === bar ? 0 : 1] ?? NaN));
        }
        for (const start of [
          [0, 0, 0, 0],
          [0.02, -0.01, 0, 0.0005],
          [0, 0.03, -0.0004, 0],
        ]) {
          expect(bar.diameterMm).toBeGreaterThanOrEqual(-2 * search((axis) => -reach(sections, axis)[0], start) - 1e-5);
          expect(ream.diameterMm).toBeLessThanOrEqual(2 * search((axis) => reach(sections, axis)[1], start) + 1e-7);
        }
      }),
      { seed: 41, numRuns: 25 },
    );
  });

  it("takes in seats whose wall bends away under every step, by lobes of three orders", () => {
    const random = createSeededGenerator(20);
    const lobe = (order: number) => ({
      order,
      amplitudeMm: (0.008 * random.uniform()) / order,
      phaseDeg: 360 * random.uniform(),
    });
    const centre = () => ({ y: 0.03 * random.normal(), z: 0.03 * random.normal() });
    for (let pair = 0; pair < 200; pair++) {
      const [own, other] = [centre(), centre()];
      const sections = [2, 8].flatMap((depthMm) => [
        section("ds", depthMm, { centre: own, harmonics: [2, 3, 4].map(lobe) }),
        section("nds", depthMm, { centre: other, harmonics: [2, 3, 4].map(lobe) }),
      ]);
      const { diameterMm, axisAtZero: o, slope: s } = solved(smallestReam(sections));
      if (pair % 25 !== 4) continue;
      // Its wall by 360 points a section: between two of them it bends by 0.008 x (2 + 3 + 4) x (pi / 360)^2 / 2, below 3e-6 mm.
      const walls = sections.map(({ seat, depthMm, xMm, ...one }): PointSection => {
        const points = Array.from({ length: 360 }, (_, i) => {
          const phi = (i * Math.PI) / 180;
          const r = one.harmonics.reduce(
            (sum, { order, amplitudeMm, phaseDeg }) =>
              sum + amplitudeMm * Math.cos(order * (phi - (phaseDeg * Math.PI) / 180)),
            one.radiusMm,
          );
          return { y: (one.centre?.y ?? NaN) + r * Math.cos(phi), z: (one.centre?.z ?? NaN) + r * Math.sin(phi) };
        });
        return { shape: "points", seat, depthMm, xMm, points };
      });
      const axis = [o.y + 43.25 * s.y, o.z + 43.25 * s.z, s.y, s.z];
      near(diameterMm, 2 * (reach(walls, axis)[1] ?? NaN), 6e-6);
      expect(diameterMm).toBeLessThanOrEqual(2 * search((at) => reach(walls, at)[1], axis) + 6e-6);
    }
  });

  it("turns with the clock, mirrors with the side of view and grows with the scale", () => {
    const change = fc.record({
      turn: fc.double({ min: 0, max: 6.28, noNaN: true }),
      mirror: fc.boolean(),
      exponent: fc.double({ min: -3, max: 3, noNaN: true }),
    });
    fc.assert(
      fc.property(measured, change, (sections, { turn, mirror, exponent }) => {
        const scale = 10 ** exponent;
        const moved = sections.map((s) => ({
          ...s,
          xMm: scale * s.xMm,
          points: s.points.map((p) => {
            const z = mirror ? -p.z : p.z;
            return {
              y: scale * (p.y * Math.cos(turn) - z * Math.sin(turn) + 3),
              z: scale * (p.y * Math.sin(turn) + z * Math.cos(turn) - 2),
            };
          }),
        }));
        const before = solved(functionalSize(sections));
        const after = solved(functionalSize(moved));
        expectDigits(after.diameterMm, scale * before.diameterMm, 8);
        expectDigits(solved(smallestReam(moved)).diameterMm, scale * solved(smallestReam(sections)).diameterMm, 8);
      }),
      { seed: 41, numRuns: 40 },
    );
  });
});

describe("functionalSize on input that has no answer", () => {
  it("says that diameters alone do not place the seats", () => {
    const sections = [section("ds", 2), section("nds", 2, { centre: null })];
    const estimate = functionalSize(sections);
    expect(estimate.ok).toBe(false);
    if (!estimate.ok) expect(estimate.reason).toContain("centres");
  });

  it.each([
    ["no section", [], "too-few-values"],
    ["one seat only", [section("ds", 2), section("ds", 8)], "too-few-values"],
    ["two sections at one place", [section("ds", 2), section("nds", 84.5)], "duplicate"],
    ["NaN", [section("ds", 2, { diameter: NaN }), section("nds", 2)], "not-finite"],
    ["a negative radius", [section("ds", 2, { diameter: -41 }), section("nds", 2)], "out-of-range"],
    [
      "a harmonic of the first order",
      [section("ds", 2, { harmonics: [{ order: 1, amplitudeMm: 0.01, phaseDeg: 0 }] }), section("nds", 2)],
      "out-of-range",
    ],
  ] as [string, SeatSection[], string][])("refuses %s", (_, sections, code) => {
    for (const fit of [functionalSize, smallestReam]) {
      try {
        fit(sections);
        expect.unreachable();
      } catch (error) {
        expect(error).toBeInstanceOf(CoreError);
        expect((error as CoreError).code).toBe(code);
      }
    }
  });
});
