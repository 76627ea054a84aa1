import { describe, expect, it } from "vitest";
import { CoreError } from "@/lib/core/errors";
import { functionalSize } from "@/lib/core/metrology/functional-size";
import {
  drawableSeats,
  functionalSizeStandardUm,
  functionalSizeUncertainty,
  functionalSizeWithErrors,
} from "@/lib/core/metrology/functional-size-uncertainty";
import type { HarmonicSection } from "@/lib/core/metrology/seat-section";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";

const OVAL = { order: 2, amplitudeMm: 0.005, phaseDeg: 40 };

function section(seat: "ds" | "nds", depthMm: number, y: number, z: number, oval = OVAL): HarmonicSection {
  const xMm = seat === "ds" ? depthMm : 86.5 - depthMm;
  return { shape: "harmonic", seat, depthMm, xMm, centre: { y, z }, radiusMm: 20.486, harmonics: [oval] };
}

const seats = [
  section("ds", 2, 0, 0),
  section("ds", 8, 0, 0),
  section("nds", 8, -0.024, 0.043),
  section("nds", 2, -0.025, 0.044),
];

/** A section with errors, put in by its own parameters. */
function withErrors(
  s: HarmonicSection,
  radius: number,
  y: number,
  z: number,
  cos2: number,
  sin2: number,
): HarmonicSection {
  const phase = (2 * OVAL.phaseDeg * Math.PI) / 180;
  const c = OVAL.amplitudeMm * Math.cos(phase) + cos2;
  const d = OVAL.amplitudeMm * Math.sin(phase) + sin2;
  return {
    ...s,
    centre: { y: (s.centre?.y ?? 0) + y, z: (s.centre?.z ?? 0) + z },
    radiusMm: s.radiusMm + radius,
    harmonics: [{ order: 2, amplitudeMm: Math.hypot(c, d), phaseDeg: (Math.atan2(d, c) * 90) / Math.PI }],
  };
}

describe("functionalSizeUncertainty", () => {
  it("evaluates each draw within 0.2 µm of the functional size computed anew", () => {
    const prepared = drawableSeats(seats);
    if (!prepared.ok) throw new Error(prepared.reason);
    const generator = createSeededGenerator(41);
    const draw = (um: number) => Float64Array.from(seats, () => (um * generator.normal()) / 1000);
    for (let i = 0; i < 200; i++) {
      const errors = { radius: draw(1), y: draw(0.6), z: draw(0.6), cos2: draw(0.5), sin2: draw(0.5) };
      const anew = functionalSize(
        seats.map((s, k) =>
          withErrors(
            s,
            errors.radius[k] ?? 0,
            errors.y[k] ?? 0,
            errors.z[k] ?? 0,
            errors.cos2[k] ?? 0,
            errors.sin2[k] ?? 0,
          ),
        ),
      );
      if (!anew.ok) throw new Error(anew.reason);
      expect(Math.abs(functionalSizeWithErrors(prepared.value, errors) - anew.value.diameterMm)).toBeLessThan(0.0002);
    }
  });

  it("agrees with the closed form by the shares of the contacts", () => {
    // Sizes and places apart from each other by micrometres, noise of nanometres: the same contacts hold in every draw.
    const apart = seats.map((s, k) => ({ ...s, radiusMm: s.radiusMm + [0, 0.003, -0.004, 0.002][k]! }));
    const noise = { diameterUm: 0.04, commonDiameterUm: 0.02, centreUm: 0.03, ovalUm: 0.02 };
    const bar = functionalSize(apart);
    const drawn = functionalSizeUncertainty(apart, { noise, draws: 10_000, generator: createSeededGenerator(41) });
    if (!bar.ok || !drawn.ok) throw new Error("no answer");
    const closed = functionalSizeStandardUm(bar.value.contacts, noise);
    expect(Math.abs(drawn.value.standardUncertainty - closed)).toBeLessThan(3 * drawn.value.standardError);
  });

  it("lies within a tenth of the closed form under the noise of a full plan", () => {
    const noise = { diameterUm: 0.75, commonDiameterUm: 2.55, centreUm: 0.6, ovalUm: 0.53 };
    const bar = functionalSize(seats);
    const drawn = functionalSizeUncertainty(seats, { noise, draws: 10_000, generator: createSeededGenerator(41) });
    if (!bar.ok || !drawn.ok) throw new Error("no answer");
    const closed = functionalSizeStandardUm(bar.value.contacts, noise);
    expect(Math.abs(drawn.value.standardUncertainty / closed - 1)).toBeLessThan(0.1);
  });

  it("gives back the uncertainty of the common size where nothing else is uncertain", () => {
    // Known answer: a common error of all diameters moves the largest bar by itself.
    const noise = { diameterUm: 0, commonDiameterUm: 2.5, centreUm: 0, ovalUm: 0 };
    const drawn = functionalSizeUncertainty(seats, { noise, draws: 4000, generator: createSeededGenerator(41) });
    if (!drawn.ok) throw new Error(drawn.reason);
    expect(Math.abs(drawn.value.standardUncertainty - 2.5)).toBeLessThan(3 * drawn.value.standardError);
  });

  it("has no answer where a centre is unknown, and refuses few draws, negative noise and NaN", () => {
    const noise = { diameterUm: 1, commonDiameterUm: 1, centreUm: 1, ovalUm: 1 };
    const generator = createSeededGenerator(41);
    const lost = seats.map((s) => ({ ...s, centre: null }));
    expect(functionalSizeUncertainty(lost, { noise, draws: 100, generator }).ok).toBe(false);
    expect(() => functionalSizeUncertainty(seats, { noise, draws: 10, generator })).toThrow(CoreError);
    expect(() => functionalSizeUncertainty(seats, { noise: { ...noise, ovalUm: -1 }, draws: 100, generator })).toThrow(
      CoreError,
    );
    expect(() => functionalSizeUncertainty(seats, { noise: { ...noise, ovalUm: NaN }, draws: 100, generator })).toThrow(
      CoreError,
    );
  });
});
