import fc from "fast-check";
import { readFileSync } from "node:fs";
import path from "node:path";
import { describe, expect, it } from "vitest";
import { CoreError } from "@/lib/core/errors";
import { type FitRing, pressFit } from "@/lib/core/fit/press-fit";
import { expectDigits } from "@/tests/helpers/expect-digits";

type LameCase = {
  id: string;
  solidShaftRadius?: number;
  collarOuterRadius?: number;
  radialInterference?: number;
  E_MPa?: number;
  pressure_MPa_published?: number;
  D: number;
  ringBore: number;
  housingOuter: number;
  E_ring_MPa: number;
  nu_ring: number;
  E_housing_MPa: number;
  nu_housing: number;
  diametralInterference: number;
  pressure_MPa: number;
  racewayContraction_um: number;
  infiniteHousing_pressure_MPa?: number;
  infiniteHousing_racewayContraction_um?: number;
};
// Source: tests/reference/press-fit.source.md
const { lame } = JSON.parse(readFileSync(path.join(import.meta.dirname, "../../reference/press-fit.json"), "utf8")) as {
  lame: LameCase[];
};

const ring = (
  innerRadiusMm: number,
  outerRadiusMm: number,
  youngsModulusGpa: number,
  poissonsRatio: number,
): FitRing => ({
  innerRadiusMm,
  outerRadiusMm,
  youngsModulusGpa,
  poissonsRatio,
});

/** Fails unless `actual` rounds to the printed value. */
const expectPrinted = (actual: number, printed: number, unit: number) =>
  expect(Math.abs(actual - printed), `${actual} against ${printed}`).toBeLessThanOrEqual(unit / 2 + 1e-9);

describe("pressFit on published cases", () => {
  it("gives the pressure of the solid shaft and collar", () => {
    const marks = lame.find((c) => c.id === "marks-6");
    const { pressuresMpa, rings } = pressFit([ring(0, 50, 207, 0.3), ring(50, 80, 207, 0.3)], {
      measure: "radial",
      valuesMm: [marks?.radialInterference ?? NaN],
    });
    expectPrinted(pressuresMpa[0] ?? NaN, marks?.pressure_MPa ?? NaN, 0.001);
    expectPrinted(pressuresMpa[0] ?? NaN, marks?.pressure_MPa_published ?? NaN, 0.1);
    // A solid member under even pressure carries it as tangential stress throughout.
    expectDigits(rings[0]?.innerHoopStressMpa ?? NaN, -(pressuresMpa[0] ?? NaN), 12);
    expectDigits(rings[0]?.outerHoopStressMpa ?? NaN, -(pressuresMpa[0] ?? NaN), 12);
  });

  it.each(lame.filter((c) => c.id.startsWith("bearing")))("gives pressure and contraction of $id", (c) => {
    const bearing = ring(c.ringBore / 2, c.D / 2, c.E_ring_MPa / 1000, c.nu_ring);
    const housing = (outer: number) => ring(c.D / 2, outer, c.E_housing_MPa / 1000, c.nu_housing);
    const fit = (outer: number) =>
      pressFit([bearing, housing(outer)], { measure: "diametral", valuesMm: [c.diametralInterference] });
    const finite = fit(c.housingOuter / 2);
    expectPrinted(finite.pressuresMpa[0] ?? NaN, c.pressure_MPa, 0.001);
    expectPrinted(-2000 * (finite.rings[0]?.innerDisplacementMm ?? NaN), c.racewayContraction_um, 0.01);
    if (c.infiniteHousing_pressure_MPa === undefined) return;
    const endless = fit(Infinity);
    expectPrinted(endless.pressuresMpa[0] ?? NaN, c.infiniteHousing_pressure_MPa, 0.001);
    expectPrinted(
      -2000 * (endless.rings[0]?.innerDisplacementMm ?? NaN),
      c.infiniteHousing_racewayContraction_um ?? NaN,
      0.01,
    );
  });
});

/** Solves a linear system by elimination with row exchange. */
function solveSystem(rows: number[][]): number[] {
  const n = rows.length;
  const m = rows.map((r) => [...r]);
  for (let c = 0; c < n; c++) {
    let p = c;
    for (let r = c; r < n; r++) if (Math.abs(m[r]?.[c] ?? 0) > Math.abs(m[p]?.[c] ?? 0)) p = r;
    [m[c], m[p]] = [m[p]!, m[c]!];
    for (let r = 0; r < n; r++) {
      if (r === c) continue;
      const factor = m[r]![c]! / m[c]![c]!;
      for (let k = c; k <= n; k++) m[r]![k]! -= factor * m[c]![k]!;
    }
  }
  return m.map((r, i) => r[n]! / r[i]!);
}

/**
 * The same physics in other words: u = A r + B / r in every ring (Timoshenko, Strength of Materials; plane stress), with
 * sigma_r = E / (1 - nu^2) ((1 + nu) A - (1 - nu) B / r^2), no stress at the free surfaces, equal stress and a jump of u at the
 * interfaces. Lengths in units of the first interface, so that the system is well scaled.
 */
function pressuresByConstants(rings: readonly FitRing[], radial: readonly number[]): number[] {
  const unit = rings[0]!.outerRadiusMm;
  const n = rings.length;
  const stress = (k: number, r: number): [number, number] => {
    const { youngsModulusGpa: e, poissonsRatio: nu } = rings[k]!;
    return [(e / (1 - nu * nu)) * (1 + nu), (-(e / (1 - nu * nu)) * (1 - nu)) / (r * r)];
  };
  const row = (entries: [number, number][], right: number) => {
    const line = Array<number>(2 * n + 1).fill(0);
    for (const [index, value] of entries) line[index] = value;
    line[2 * n] = right;
    return line;
  };
  const inner = rings[0]!.innerRadiusMm / unit;
  const outer = rings[n - 1]!.outerRadiusMm / unit;
  const first =
    inner === 0
      ? row([[1, 1]], 0)
      : row(
          [
            [0, stress(0, inner)[0]],
            [1, stress(0, inner)[1]],
          ],
          0,
        );
  const last =
    outer === Infinity
      ? row([[2 * n - 2, 1]], 0)
      : row(
          [
            [2 * n - 2, stress(n - 1, outer)[0]],
            [2 * n - 1, stress(n - 1, outer)[1]],
          ],
          0,
        );
  const rows = [first, last];
  for (let k = 0; k + 1 < n; k++) {
    const r = rings[k]!.outerRadiusMm / unit;
    const [a, b] = [stress(k, r), stress(k + 1, r)];
    rows.push(
      row(
        [
          [2 * k, a[0]],
          [2 * k + 1, a[1]],
          [2 * k + 2, -b[0]],
          [2 * k + 3, -b[1]],
        ],
        0,
      ),
    );
    rows.push(
      row(
        [
          [2 * k, -r],
          [2 * k + 1, -1 / r],
          [2 * k + 2, r],
          [2 * k + 3, 1 / r],
        ],
        (radial[k] ?? 0) / unit,
      ),
    );
  }
  const x = solveSystem(rows);
  return radial.map((_, k) => {
    const [sa, sb] = stress(k, rings[k]!.outerRadiusMm / unit);
    return -1000 * (sa * x[2 * k]! + sb * x[2 * k + 1]!);
  });
}

const anyStack = fc
  .record({
    solid: fc.boolean(),
    endless: fc.boolean(),
    start: fc.double({ min: 10, max: 30, noNaN: true }),
    walls: fc.array(fc.double({ min: 0.5, max: 8, noNaN: true }), { minLength: 2, maxLength: 4 }),
    modulus: fc.array(fc.double({ min: 40, max: 210, noNaN: true }), { minLength: 5, maxLength: 5 }),
    nu: fc.array(fc.double({ min: 0.2, max: 0.4, noNaN: true }), { minLength: 5, maxLength: 5 }),
    interference: fc.array(fc.double({ min: 0.005, max: 0.06, noNaN: true }), { minLength: 4, maxLength: 4 }),
  })
  .map(({ solid, endless, start, walls, modulus, nu, interference }) => {
    const radii = walls.reduce((all, wall) => [...all, (all.at(-1) ?? 0) + wall], [start]);
    const rings = walls.map((_, k) =>
      ring(
        k === 0 && solid ? 0 : (radii[k] ?? 0),
        k === walls.length - 1 && endless ? Infinity : (radii[k + 1] ?? 0),
        modulus[k] ?? 0,
        nu[k] ?? 0,
      ),
    );
    return { rings, radial: interference.slice(0, walls.length - 1) };
  });

describe("pressFit of several rings at once", () => {
  it("agrees with the constants of u = A r + B / r for two to four rings of any materials", () => {
    fc.assert(
      fc.property(anyStack, ({ rings, radial }) => {
        const expected = pressuresByConstants(rings, radial);
        fc.pre(expected.every((p) => p > 0));
        const { pressuresMpa } = pressFit(rings, { measure: "radial", valuesMm: radial });
        pressuresMpa.forEach((p, k) => expectDigits(p, expected[k] ?? NaN, 9));
      }),
      { seed: 41, numRuns: 300 },
    );
  });

  it("meets the interference and its own stresses at every closed interface, and never overlaps or pulls", () => {
    const loose = fc.tuple(
      anyStack,
      fc.array(fc.double({ min: -0.05, max: 0.05, noNaN: true }), { minLength: 3, maxLength: 3 }),
    );
    fc.assert(
      fc.property(loose, ([{ rings }, values]) => {
        const valuesMm = values.slice(0, rings.length - 1);
        const fit = pressFit(rings, { measure: "radial", valuesMm });
        fit.pressuresMpa.forEach((p, k) => {
          expect(p).toBeGreaterThanOrEqual(0);
          const jump = (fit.rings[k + 1]?.innerDisplacementMm ?? NaN) - (fit.rings[k]?.outerDisplacementMm ?? NaN);
          if (p > 0) expect(Math.abs(jump - (valuesMm[k] ?? NaN))).toBeLessThan(1e-12);
          else expect(jump).toBeGreaterThanOrEqual((valuesMm[k] ?? NaN) - 1e-12);
        });
      }),
      { seed: 41, numRuns: 200 },
    );
  });

  // The three limits below follow from the physics alone.
  it("treats a cup and a shell of one material without interference between them as one ring", () => {
    const bearing = ring(17.3, 18.5, 206, 0.3);
    const one = pressFit([bearing, ring(18.5, 24.5, 68.9, 0.33)], { measure: "diametral", valuesMm: [0.03] });
    const two = pressFit([bearing, ring(18.5, 20.5, 68.9, 0.33), ring(20.5, 24.5, 68.9, 0.33)], {
      measure: "diametral",
      valuesMm: [0.03, 0],
    });
    expectDigits(two.pressuresMpa[0] ?? NaN, one.pressuresMpa[0] ?? NaN, 10);
    expectDigits(two.rings[0]?.innerDisplacementMm ?? NaN, one.rings[0]?.innerDisplacementMm ?? NaN, 10);
  });

  it("approaches the fit of two rings as the cup between them becomes thin", () => {
    const bearing = ring(17.3, 18.5, 206, 0.3);
    const shell = (inner: number) => ring(inner, 24.5, 50, 0.31);
    const two = pressFit([bearing, shell(18.5)], { measure: "diametral", valuesMm: [0.03] });
    const three = pressFit([bearing, ring(18.5, 18.5 + 1e-6, 68.9, 0.33), shell(18.5 + 1e-6)], {
      measure: "diametral",
      valuesMm: [0, 0.03],
    });
    expectDigits(three.pressuresMpa[0] ?? NaN, two.pressuresMpa[0] ?? NaN, 5);
    expectDigits(three.pressuresMpa[1] ?? NaN, two.pressuresMpa[0] ?? NaN, 5);
  });

  it("approaches the endless wall as the outer radius grows", () => {
    const inner = ring(19.8, 21, 206, 0.3);
    const endless = pressFit([inner, ring(21, Infinity, 68.9, 0.33)], { measure: "diametral", valuesMm: [0.04] });
    const huge = pressFit([inner, ring(21, 1e6, 68.9, 0.33)], { measure: "diametral", valuesMm: [0.04] });
    expectDigits(huge.pressuresMpa[0] ?? NaN, endless.pressuresMpa[0] ?? NaN, 8);
  });

  it("leaves parts with clearance alone, and closes an inner clearance when the outer fit is tight enough", () => {
    const rings = [ring(17.3, 18.5, 206, 0.3), ring(18.5, 20.5, 68.9, 0.33), ring(20.5, 24.5, 50, 0.31)];
    const loose = pressFit(rings, { measure: "diametral", valuesMm: [-0.01, -0.01] });
    expect(loose.pressuresMpa).toEqual([0, 0]);
    expect(loose.rings[0]?.innerDisplacementMm).toBe(0);
    const open = pressFit(rings, { measure: "diametral", valuesMm: [-0.05, 0.02] });
    expect(open.pressuresMpa[0]).toBe(0);
    expect(open.pressuresMpa[1]).toBeGreaterThan(0);
    const closed = pressFit(rings, { measure: "diametral", valuesMm: [-0.005, 0.04] });
    expect(closed.pressuresMpa[0]).toBeGreaterThan(0);
  });

  it("doubles the radial interference for the diametral one", () => {
    const rings = [ring(0, 50, 207, 0.3), ring(50, 80, 207, 0.3)];
    const radial = pressFit(rings, { measure: "radial", valuesMm: [0.01] });
    const diametral = pressFit(rings, { measure: "diametral", valuesMm: [0.02] });
    expectDigits(diametral.pressuresMpa[0] ?? NaN, radial.pressuresMpa[0] ?? NaN, 12);
  });
});

describe("pressFit on bad input", () => {
  const good = [ring(17.3, 18.5, 206, 0.3), ring(18.5, 24.5, 68.9, 0.33)];
  const bad: [string, FitRing[], number[], string][] = [
    ["one ring", good.slice(0, 1), [], "too-few-values"],
    ["a missing interference", good, [], "length-mismatch"],
    ["NaN interference", good, [NaN], "not-finite"],
    ["NaN modulus", [good[0]!, ring(18.5, 24.5, NaN, 0.3)], [0.01], "not-finite"],
    ["a bore larger than its housing", [good[0]!, ring(18.5, 18, 70, 0.3)], [0.01], "out-of-range"],
    ["a negative wall", [ring(19, 18.5, 206, 0.3), good[1]!], [0.01], "out-of-range"],
    ["a negative radius", [ring(-1, 18.5, 206, 0.3), good[1]!], [0.01], "out-of-range"],
    ["no stiffness", [good[0]!, ring(18.5, 24.5, 0, 0.3)], [0.01], "out-of-range"],
    ["an impossible Poisson ratio", [good[0]!, ring(18.5, 24.5, 70, 0.6)], [0.01], "out-of-range"],
    ["rings that do not meet", [good[0]!, ring(20, 24.5, 70, 0.3)], [0.01], "out-of-range"],
    ["an endless inner ring", [ring(17, Infinity, 70, 0.3), ring(18.5, 24.5, 70, 0.3)], [0.01], "out-of-range"],
  ];
  it.each(bad)("refuses %s", (_, rings, valuesMm, code) => {
    try {
      pressFit(Object.freeze(rings) as FitRing[], { measure: "diametral", valuesMm });
      expect.unreachable();
    } catch (error) {
      expect(error).toBeInstanceOf(CoreError);
      expect((error as CoreError).code).toBe(code);
    }
  });
});
