import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { CoreError } from "@/lib/core/errors";
import { gaugeBarPassage, tiltBoundsOfPassage, USUAL_GAUGE_BAR_SET } from "@/lib/core/metrology/gauge-bar";
import { expectDigits } from "@/tests/helpers/expect-digits";

const ARCMIN = Math.PI / 10800;
const IN_LINE = { y: 0, z: 0 };

/** A parallel offset of the NDS seat: both axes along x, the common axis leaning to a clock position by so many arc minutes. */
function parallelOffset(arcmin: number, clockDeg: number) {
  const slope = Math.tan(arcmin * ARCMIN);
  const lean = { y: slope * Math.cos((clockDeg * Math.PI) / 180), z: slope * Math.sin((clockDeg * Math.PI) / 180) };
  const passage = gaugeBarPassage(USUAL_GAUGE_BAR_SET, { ds: IN_LINE, nds: IN_LINE }, lean);
  if (!passage.ok) throw new Error(passage.reason);
  return passage.value;
}

describe("gaugeBarPassage", () => {
  it("takes gauge length times tilt from the clearance and lets the worse side decide", () => {
    // By hand: 20 µm - 12 mm x 2 arc minutes (0.58178 mrad) = 13.019 µm; x 5 arc minutes = 2.547 µm.
    const slopes = { ds: { y: Math.tan(2 * ARCMIN), z: 0 }, nds: { y: 0, z: Math.tan(-5 * ARCMIN) } };
    const passage = gaugeBarPassage(USUAL_GAUGE_BAR_SET, slopes, IN_LINE);
    if (!passage.ok) throw new Error(passage.reason);
    expectDigits(passage.value.seats.ds.clearanceUm, 20 - 12000 * 2 * ARCMIN, 9);
    expectDigits(passage.value.clearanceUm, 2.547, 3.5);
    expect(passage.value).toMatchObject({ worse: "nds", result: "stiff" });
    expect(passage.value.seats.ds.result).toBe("free");
  });

  it("is free in line, stiff slightly out, and will not pass clearly out (common practice, no source)", () => {
    expect(parallelOffset(0, 0).result).toBe("free");
    expect(parallelOffset(0, 0).seats.ds.innerContactDeg).toBeNull();
    expect(parallelOffset(5, 120).result).toBe("stiff");
    expect(parallelOffset(7, 120).result).toBe("will not pass");
  });

  it("touches one clock position on each side: inner edge where the bar leans to, outer edge opposite", () => {
    // NDS seat off towards 4 o'clock: in the DS gauge the bar leans to 4 going inwards, in the NDS gauge to 10.
    const { ds, nds } = parallelOffset(5, 120).seats;
    expectDigits(ds.innerContactDeg ?? NaN, 120, 9);
    expectDigits(ds.outerContactDeg ?? NaN, 300, 9);
    expectDigits(nds.innerContactDeg ?? NaN, 300, 9);
    expectDigits(nds.outerContactDeg ?? NaN, 120, 9);
  });

  it("mirrors its contacts with the side of view and turns them with the clock", () => {
    fc.assert(
      fc.property(fc.double({ min: 1, max: 359, noNaN: true }), (clock) => {
        const plain = parallelOffset(5, clock).seats.ds.innerContactDeg ?? NaN;
        const mirrored = parallelOffset(5, 360 - clock).seats.ds.innerContactDeg ?? NaN;
        expect(Math.abs(plain - clock)).toBeLessThan(1e-9);
        expect(Math.abs(360 - mirrored - clock)).toBeLessThan(1e-9);
      }),
      { seed: 41, numRuns: 50 },
    );
  });

  it("has no answer without the tilt of a seat", () => {
    expect(gaugeBarPassage(USUAL_GAUGE_BAR_SET, { ds: null, nds: IN_LINE }, IN_LINE).ok).toBe(false);
  });

  it("gives bounds that its own passage lies in", () => {
    for (const arcmin of [0, 1, 4, 4.5, 5.5, 6, 10]) {
      const { result, seats } = parallelOffset(arcmin, 30);
      const { leastArcmin, mostArcmin } = tiltBoundsOfPassage(USUAL_GAUGE_BAR_SET, result);
      expect(seats.ds.tiltArcmin).toBeGreaterThanOrEqual(leastArcmin - 1e-9);
      expect(seats.ds.tiltArcmin).toBeLessThanOrEqual((mostArcmin ?? Infinity) + 1e-9);
    }
  });

  it("refuses a bar thicker than its gauges, lengths below zero and NaN", () => {
    for (const bad of [{ barMm: 20.05 }, { gaugeLengthMm: 0 }, { gaugeBoreMm: NaN }, { freeAboveUm: -1 }])
      expect(() => gaugeBarPassage({ ...USUAL_GAUGE_BAR_SET, ...bad }, { ds: IN_LINE, nds: IN_LINE }, IN_LINE)).toThrow(
        CoreError,
      );
    expect(() => gaugeBarPassage(USUAL_GAUGE_BAR_SET, { ds: { y: NaN, z: 0 }, nds: IN_LINE }, IN_LINE)).toThrow(
      CoreError,
    );
  });
});
