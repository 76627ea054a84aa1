import { describe, expect, it } from "vitest";
import { parseReadingName, type ReadingName } from "@/lib/core/metrology/reading-name";
import { implausibleReading, implausibleReadings } from "@/lib/core/metrology/reading-plausibility";
import { PRESS_FIT_41, PRESS_FIT_42 } from "@/lib/quality/demonstration-drawings";

function name(text: string): ReadingName {
  const parsed = parseReadingName(text);
  if (!parsed.ok) throw new Error(parsed.reason);
  return parsed.value;
}

const bore = name("ds.bore.2@12-6");

// Rules of the project's measurement file: a bore 1 mm, a width 20 tolerance widths, a sweep 500 µm from its median.
describe("implausibleReading", () => {
  it("accepts what a shell can be, also where it does not conform", () => {
    for (const value of [40, 40.7, 40.975, 41.3, 42]) expect(implausibleReading(PRESS_FIT_41, bore, value)).toBeNull();
    for (const value of [78.5, 86.5, 94.5])
      expect(implausibleReading(PRESS_FIT_41, name("width@12"), value)).toBeNull();
  });

  it.each([
    [4098, "missing decimal sign", 40.98],
    [40975, "missing decimal sign", 40.975],
    [419, "missing decimal sign", 41.9],
    [409.75, "misplaced decimal sign", 40.975],
    [4.0975, "misplaced decimal sign", 40.975],
    [49.08, "swapped digits", 40.98],
    [14.02, "swapped digits", 41.02],
  ] as const)("asks about a bore of %s mm and names the slip: %s", (value, kind, meant) => {
    const question = implausibleReading(PRESS_FIT_41, bore, value);
    expect(question?.slip).toEqual({ kind, value: meant });
    expect(question?.text).toContain(`${kind}? ${meant} mm would fit`);
  });

  it("asks without a guess where no slip explains the value", () => {
    const question = implausibleReading(PRESS_FIT_41, bore, 38.8);
    expect(question?.slip).toBeNull();
    expect(question?.text).toBe("38.8 mm lies more than 1 mm from the nominal bore, 41 mm");
  });

  it("asks about zero and negative sizes", () => {
    expect(implausibleReading(PRESS_FIT_41, bore, 0)).not.toBeNull();
    expect(implausibleReading(PRESS_FIT_41, bore, -40.98)).not.toBeNull();
  });

  it("goes by the drawing's own nominal and width", () => {
    expect(implausibleReading(PRESS_FIT_42, name("width@12"), 68.1)).toBeNull();
    expect(implausibleReading(PRESS_FIT_42, name("width@12"), 86.5)?.slip).toMatchObject({ kind: "swapped digits" });
    expect(implausibleReading(PRESS_FIT_41, name("width@12"), 865)?.slip).toEqual({
      kind: "missing decimal sign",
      value: 86.5,
    });
  });

  it("lets a sweep have any zero but not one reading far from the median of its own", () => {
    const names = [0, 90, 180, 270].map((a) => name(`nds.sweep.2@${a}`));
    expect(implausibleReadings(PRESS_FIT_41, names, [9000, 9020, 8990, 9500])).toEqual([]);
    const found = implausibleReadings(PRESS_FIT_41, names, [10, -5, 12_000, 20]);
    expect(found.map(({ index }) => index)).toEqual([2]);
    // 12, 1.2, 120: any of them fits around the zero of an indicator, so none is offered.
    expect(found[0]?.question.slip).toBeNull();
    expect(implausibleReading(PRESS_FIT_41, name("nds.sweep.2@0"), 9000)).toBeNull();
  });

  it("keeps the sweeps of two sections, and faces, apart", () => {
    const names = [
      ...[0, 90, 180].map((a) => name(`nds.sweep.2@${a}`)),
      ...[0, 90, 180].map((a) => name(`nds.sweep.8@${a}`)),
      ...[0, 90, 180].map((a) => name(`nds.face@${a}`)),
    ];
    expect(implausibleReadings(PRESS_FIT_41, names, [0, 1, 2, 2000, 2001, 2002, -4000, -4001, null])).toEqual([]);
  });

  it("never asks about plug and bar", () => {
    expect(implausibleReading(PRESS_FIT_41, name("ds.plug.40.95"), 0)).toBeNull();
    expect(implausibleReading(PRESS_FIT_41, name("bar.A"), 1e9)).toBeNull();
  });
});
