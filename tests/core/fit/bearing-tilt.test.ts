import { readFileSync } from "node:fs";
import path from "node:path";
import { describe, expect, it } from "vitest";
import { CoreError } from "@/lib/core/errors";
import { bearingMisalignment } from "@/lib/core/fit/bearing-misalignment";
import { freeTilt, pitchDiameterMm } from "@/lib/core/fit/bearing-tilt";
import { expectDigits } from "@/tests/helpers/expect-digits";

// Source: tests/reference/bearing-tilt.source.md
const { tilt } = JSON.parse(
  readFileSync(path.join(import.meta.dirname, "../../reference/bearing-tilt.json"), "utf8"),
) as {
  tilt: {
    id: string;
    ball: number;
    pitch: number;
    f: number;
    cases: { clearance: number; arcmin: number; published?: number }[];
  }[];
};
const cases = tilt.flatMap((b) => b.cases.map((c) => ({ ...c, id: b.id, ball: b.ball, pitch: b.pitch, f: b.f })));
const bearing = (ball: number, pitch: number, f: number) => ({
  ballDiameterMm: ball,
  pitchDiameterMm: pitch,
  innerGrooveFactor: f,
  outerGrooveFactor: f,
});

describe("freeTilt", () => {
  it.each(cases)(
    "gives $arcmin' for bearing $id at a clearance of $clearance mm",
    ({ ball, pitch, f, clearance, arcmin, published }) => {
      const free = freeTilt(bearing(ball, pitch, f), clearance);
      expect(Math.abs(free.approximateArcmin - arcmin)).toBeLessThanOrEqual(0.005);
      if (published !== undefined) expect(Math.abs(free.approximateArcmin - published)).toBeLessThanOrEqual(0.5);
      // The exact form differs by terms of the second order in the groove play over the pitch diameter.
      expectDigits(free.exactRad, free.approximateRad, 3);
    },
  );

  it("solves the two cosine equations of the exact form", () => {
    // Independent: the printed formula with acos, which still holds 7 digits at these angles.
    const [ball, pitch, fi, fo, clearance] = [3.5, 36, 0.515, 0.525, 0.02];
    const play = (f: number) => (2 * f - 1) * ball;
    const cosine = (f: number, arm: number) => 1 - (clearance * (play(f) - clearance / 4)) / (2 * pitch * arm);
    const expected =
      Math.acos(cosine(fi, pitch + play(fi) - clearance / 2)) + Math.acos(cosine(fo, pitch - play(fo) + clearance / 2));
    const free = freeTilt(
      { ballDiameterMm: ball, pitchDiameterMm: pitch, innerGrooveFactor: fi, outerGrooveFactor: fo },
      clearance,
    );
    expectDigits(free.exactRad, expected, 7);
  });

  it("leaves no free tilt without clearance", () => {
    expect(freeTilt(bearing(3.5, 36, 0.52), 0).exactRad).toBe(0);
    expect(freeTilt(bearing(3.5, 36, 0.52), -0.01).approximateArcmin).toBe(0);
  });

  it("refuses what no bearing can be", () => {
    for (const bad of [bearing(0, 36, 0.52), bearing(3.5, 3, 0.52), bearing(3.5, 36, 0.5), bearing(NaN, 36, 0.52)])
      expect(() => freeTilt(bad, 0.01)).toThrow(CoreError);
    expect(() => freeTilt(bearing(3.5, 36, 0.52), NaN)).toThrow(CoreError);
    expect(() => freeTilt(bearing(3.5, 36, 0.52), 1)).toThrow(CoreError);
    expect(pitchDiameterMm(30, 42)).toBe(36);
  });
});

describe("bearingMisalignment", () => {
  it("holds the seat's tilt against the free tilt, or the maker's value where there is one", () => {
    expect(bearingMisalignment(2.9, 5.2)).toMatchObject({ verdict: "within", allowedBy: "free tilt" });
    expect(bearingMisalignment(2, 1.9)).toMatchObject({ verdict: "exceeds" });
    expect(bearingMisalignment(2, 1.9, 4)).toMatchObject({ verdict: "within", allowedBy: "maker", allowedArcmin: 4 });
    expect(bearingMisalignment(2, 0).marginArcmin).toBe(-2);
  });

  it("refuses NaN and negative angles", () => {
    expect(() => bearingMisalignment(NaN, 1)).toThrow(CoreError);
    expect(() => bearingMisalignment(-1, 1)).toThrow(CoreError);
    expect(() => bearingMisalignment(1, 1, -1)).toThrow(CoreError);
  });
});
