import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { CoreError } from "@/lib/core/errors";
import { alignSeats } from "@/lib/core/metrology/coaxiality";
import { type SectionCentre, seatAxis } from "@/lib/core/metrology/seat-axis";
import { expectDigits } from "@/tests/helpers/expect-digits";
import reference from "@/tests/reference/seat-geometry.json";

const SEED = { seed: 41, numRuns: 200 };
const centre = ([xMm = NaN, yMm = NaN, zMm = NaN]: readonly number[]): SectionCentre => ({ xMm, yMm, zMm });

describe("alignSeats against the published case four-sections", () => {
  const ds = reference.coaxiality.ds.map(centre);
  const nds = reference.coaxiality.nds.map(centre);
  const result = alignSeats(Object.freeze(ds), Object.freeze(nds));

  it("gives zones and tilts to the printed digits", () => {
    // Printed to 0.0001 mm and 0.001 arc minutes, the angle between the seats to 0.01.
    expect(Math.abs(result.zoneToDatumMm - reference.coaxiality.zoneDsDatum)).toBeLessThan(5.1e-5);
    expect(Math.abs(result.zoneToCommonAxisMm - reference.coaxiality.zoneCommonAxis)).toBeLessThan(5.1e-5);
    expect(Math.abs((result.tiltDatumArcmin ?? NaN) - reference.coaxiality.tiltDsArcmin)).toBeLessThan(5.1e-4);
    expect(Math.abs((result.tiltMeasuredArcmin ?? NaN) - reference.coaxiality.tiltNdsArcmin)).toBeLessThan(5.1e-4);
    expect(
      Math.abs((result.angleBetweenSeatsArcmin ?? NaN) - reference.coaxiality.angleBetweenSeatsArcmin),
    ).toBeLessThan(5.1e-3);
  });
});

describe("alignSeats", () => {
  it("gives a parallel offset of 0.05 mm a tilt of 2.25 arc minutes and a zone to the common axis of 0.004 mm", () => {
    // Case parallel-offset-2-8 (geometry.json), and by the definition of the common axis.
    const [pair] = reference.pair;
    const ds = [centre([2, 0, 0]), centre([8, 0, 0])];
    const nds = [centre([78.5, 0.05, 0]), centre([84.5, 0.05, 0])];
    const result = alignSeats(ds, nds);
    expect(Math.abs((result.tiltDatumArcmin ?? NaN) - (pair?.tiltArcmin ?? NaN))).toBeLessThan(5.1e-3);
    expect(Math.abs((result.tiltMeasuredArcmin ?? NaN) - (pair?.tiltArcmin ?? NaN))).toBeLessThan(5.1e-3);
    expect(Math.abs(result.zoneToCommonAxisMm - 0.004)).toBeLessThan(5.1e-4);
    expectDigits(result.zoneToDatumMm, 0.1, 12);
    expectDigits(result.angleBetweenSeatsArcmin ?? NaN, 0, 9);
  });

  it("gives an offset but no tilt from one section", () => {
    const result = alignSeats([centre([2, 0, 0]), centre([8, 0, 0])], [centre([80, 0.03, 0.04])]);
    expectDigits(result.zoneToDatumMm, 0.1, 12); // 3-4-5 triangle, by construction
    expect(result).toMatchObject({ tiltDatumArcmin: null, tiltMeasuredArcmin: null, angleBetweenSeatsArcmin: null });
    expect(seatAxis([centre([80, 0.03, 0.04])])).toMatchObject({ ok: false });
  });

  it("refuses what has no answer", () => {
    const pair = [centre([2, 0, 0]), centre([8, 0, 0])];
    expect(() => alignSeats(pair, [])).toThrow(CoreError);
    expect(() => alignSeats([centre([2, 0, 0])], pair)).toThrow(CoreError);
    expect(() => alignSeats(pair, pair)).toThrow(CoreError);
    expect(() => alignSeats([centre([2, NaN, 0]), centre([8, 0, 0])], pair)).toThrow(CoreError);
  });

  const um = fc.double({ min: -0.3, max: 0.3, noNaN: true });
  const frame = fc.record({ a: um, b: um, c: um, d: um, e: um, f: um, g: um, h: um });
  type Frame = Record<"a" | "b" | "c" | "d" | "e" | "f" | "g" | "h", number>;
  const seats = (p: Frame): [SectionCentre[], SectionCentre[]] => [
    [centre([2, p.a, p.b]), centre([8, p.c, p.d])],
    [centre([78.5, p.e, p.f]), centre([84.5, p.g, p.h])],
  ];

  it("does not change under a turn of the clock, a mirror or a shift across the axis", () => {
    fc.assert(
      fc.property(frame, fc.double({ min: 0, max: 6.28, noNaN: true }), um, fc.boolean(), (p, turn, shift, mirror) => {
        const [ds, nds] = seats(p);
        const move = ({ xMm, yMm, zMm }: SectionCentre): SectionCentre => {
          const z = mirror ? -zMm : zMm;
          return {
            xMm,
            yMm: yMm * Math.cos(turn) - z * Math.sin(turn) + shift,
            zMm: yMm * Math.sin(turn) + z * Math.cos(turn) - shift,
          };
        };
        const plain = alignSeats(ds, nds);
        const moved = alignSeats(ds.map(move), nds.map(move));
        expect(Math.abs(moved.zoneToDatumMm - plain.zoneToDatumMm)).toBeLessThan(1e-9);
        expect(Math.abs(moved.zoneToCommonAxisMm - plain.zoneToCommonAxisMm)).toBeLessThan(1e-9);
        expect(Math.abs((moved.tiltDatumArcmin ?? NaN) - (plain.tiltDatumArcmin ?? NaN))).toBeLessThan(1e-7);
        expect(Math.abs((moved.tiltMeasuredArcmin ?? NaN) - (plain.tiltMeasuredArcmin ?? NaN))).toBeLessThan(1e-7);
      }),
      SEED,
    );
  });

  it("follows the scale from 1e-3 to 1e3 with angles unchanged", () => {
    fc.assert(
      fc.property(frame, fc.constantFrom(1e-3, 1e-1, 10, 1e3), (p, scale) => {
        const [ds, nds] = seats(p);
        const scaled = ({ xMm, yMm, zMm }: SectionCentre): SectionCentre => ({
          xMm: xMm * scale,
          yMm: yMm * scale,
          zMm: zMm * scale,
        });
        const plain = alignSeats(ds, nds);
        const result = alignSeats(ds.map(scaled), nds.map(scaled));
        expect(Math.abs(result.zoneToDatumMm / scale - plain.zoneToDatumMm)).toBeLessThan(1e-9);
        expect(Math.abs((result.tiltDatumArcmin ?? NaN) - (plain.tiltDatumArcmin ?? NaN))).toBeLessThan(1e-7);
      }),
      SEED,
    );
  });
});
