import { describe, expect, it } from "vitest";
import { parseReadingName } from "@/lib/core/metrology/reading-name";
import { directionQuestions, measurementDoubt } from "@/lib/format/measurement-doubts";

const nbsp = "\u00a0";
const parsed = parseReadingName("nds.sweep.8@135");
const names = parsed.ok ? [parsed.value] : [];
const base = { seat: "nds", depthMm: 8, readingIndex: null, limit: null } as const;

describe("measurementDoubt", () => {
  it("says what is doubtful, by how much, and what to do", () => {
    expect(measurementDoubt({ ...base, code: "sweep-not-closed", value: 4.2, limit: 3 }, names, "ds")).toBe(
      `The NDS sweep, 8${nbsp}mm deep, does not close: +4.2${nbsp}µm at the end, at most 3.0${nbsp}µm. Sweep again.`,
    );
    expect(measurementDoubt({ ...base, code: "sweep-maybe-reversed", value: 50, limit: 12 }, names, "ds")).toBe(
      `The NDS sweep, 8${nbsp}mm deep, may be keyed the wrong way round: its oval lies 50° from that of the diameters. ` +
        "Check the first two angles.",
    );
    expect(
      measurementDoubt(
        { ...base, code: "width-disagrees-with-faces", seat: null, depthMm: null, value: 52, limit: 24 },
        names,
        "ds",
      ),
    ).toBe(`Widths and faces disagree by 52${nbsp}µm, at most 24${nbsp}µm by chance: one of them was misread.`);
  });

  it("names a reading that does not fit as seen from the side", () => {
    const outlier = { ...base, code: "sweep-outlier", readingIndex: 0, value: -498.4 } as const;
    expect(measurementDoubt(outlier, names, "ds")).toBe(
      `NDS sweep at 4:30 does not fit the others: −498${nbsp}µm. Read it again.`,
    );
    expect(measurementDoubt(outlier, names, "nds")).toMatch(/^NDS sweep at 7:30 /);
    expect(measurementDoubt({ ...outlier, readingIndex: null }, names, "ds")).toMatch(/^A reading of the NDS sweep, 8/);
  });
});

describe("directionQuestions", () => {
  it("asks once for sections that begin alike, as seen from the side", () => {
    const unseen = [2, 8].map((depthMm) => ({ seat: "nds", depthMm, firstDeg: [0, 45] }) as const);
    expect(directionQuestions(unseen, "ds")).toEqual([
      `Did the NDS sweep, 2${nbsp}mm and 8${nbsp}mm deep, begin at 12 and go on at 1:30? ` +
        "Its readings cannot tell; the other way round mirrors the offset.",
    ]);
    expect(directionQuestions(unseen, "nds")[0]).toMatch(/begin at 12 and go on at 10:30/);
    expect(directionQuestions([], "ds")).toEqual([]);
  });
});
