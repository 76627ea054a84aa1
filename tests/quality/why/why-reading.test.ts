import { describe, expect, it } from "vitest";
import { layoutGroupRows } from "@/lib/charts/group-rows";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { whatStandsOut, type WhyStream } from "@/lib/quality/why/what-stands-out";
import { readWhy, type WhyFrame } from "@/lib/quality/why/why-reading";

const DAY_MS = 86_400_000;

type Made = {
  readonly shifts: number;
  readonly add?: (shift: number, place: number) => number;
  readonly seed?: number;
};

/** Thirty frames a shift, two inspectors by turns of six shifts; each shift has an error of its own. */
function made({ shifts, add = () => 0, seed = 5 }: Made): WhyFrame[] {
  const random = createSeededGenerator(seed);
  return Array.from({ length: shifts }, (_, shift) => {
    const own = 0.3 * random.normal();
    return Array.from({ length: 30 }, (__, place): WhyFrame => ({
      serial: `F-${shift}-${place}`,
      at: shift * DAY_MS + place * 60_000,
      shiftAt: shift * DAY_MS,
      value: 5 + own + random.normal() + add(shift, place),
      labels: { inspector: Math.floor(shift / 6) % 2 === 0 ? "One" : "Two", fixture: `FX-${place % 2}` },
    }));
  }).flat();
}

const tired = (shift: number, place: number) => ((shift === 20 || shift === 21) && place >= 15 ? 8 : 0);

describe("readWhy", () => {
  it("shows the shifts of a tired hand under its name, and blames nobody else", () => {
    const { groups } = readWhy(made({ shifts: 40, add: tired }), "inspector");
    const out = groups.map(({ name, cells }) => [
      name,
      cells.filter(({ isOutlying }) => isOutlying).map(({ shiftAt }) => shiftAt / DAY_MS),
    ]);
    expect(out).toEqual([
      ["One", []],
      ["Two", [20, 21]],
    ]);
  });

  it("takes shifts for the measure: what shifts differ by is no difference of inspectors", () => {
    // An error of each shift of the size of a frame's own scatter: 30 frames a shift tested one by one would differ.
    const add = (shift: number) => 3 * Math.sin(shift * 2.4);
    const { groups } = readWhy(made({ shifts: 24, add }), "inspector");
    expect(groups.map(({ differs }) => differs)).toEqual([false, false]);
    const [one] = groups;
    const width = (one?.interval?.[1] ?? 0) - (one?.interval?.[0] ?? 0);
    // 12 shifts with an sd of 3 / sqrt(2): about 2 * 2.2 * 2.12 / sqrt(12) wide.
    expect(width).toBeGreaterThan(2);
  });

  it("sees a fixture that differs within the shifts, and shares the variation out", () => {
    const add = (_: number, place: number) => (place % 2) * 4;
    const { groups, components } = readWhy(made({ shifts: 24, add }), "fixture");
    expect(groups.map(({ name, differs }) => [name, differs])).toEqual([
      ["FX-0", true],
      ["FX-1", true],
    ]);
    if (components?.ok !== true) throw new Error("no components");
    const { between, cell, within } = components.value;
    // Two levels 4 apart: variance 8, of shifts 0.09, of frames 1.
    expect(Math.abs((between?.variance ?? 0) - 8)).toBeLessThan(1);
    expect(cell.variance).toBeLessThan(0.3);
    expect(Math.abs(within.variance - 1)).toBeLessThan(0.2);
  });

  it("says so where frames do not say what they belong to", () => {
    const frames = made({ shifts: 2 });
    expect(readWhy(frames, "mould")).toMatchObject({ groups: [], unlabelled: 60, components: null });
    const some = frames.map((frame, at) => (at < 10 ? { ...frame, labels: {} } : frame));
    expect(readWhy(some, "inspector").unlabelled).toBe(10);
    expect(readWhy(frames, "shift").groups).toHaveLength(2);
  });
});

describe("whatStandsOut", () => {
  const stream = (id: string, group: string, frames: readonly WhyFrame[]): WhyStream => ({
    id,
    group,
    feature: "ds.bore.range",
    frames,
  });

  it("names the shifts once, with every stream in which they stand out and who measured", () => {
    const streams = [
      stream("a", "A46", made({ shifts: 40, add: tired })),
      stream("b", "A46", made({ shifts: 40, add: tired, seed: 6 })),
      stream("c", "C41", made({ shifts: 40, seed: 7 })),
    ];
    const { shifts, groups } = whatStandsOut(streams);
    expect(
      shifts.map(({ group, shiftAt, streams: of, labels }) => [group, shiftAt / DAY_MS, of.length, labels.inspector]),
    ).toEqual(
      expect.arrayContaining([
        ["A46", 20, 2, "Two"],
        ["A46", 21, 2, "Two"],
      ]),
    );
    expect(shifts).toHaveLength(2);
    expect(groups).toEqual([]);
  });

  it("is quiet in nearly every plant where nothing differs, however many streams it has", () => {
    let loud = 0;
    for (let plant = 0; plant < 20; plant += 1) {
      const streams = Array.from({ length: 12 }, (_, at) =>
        stream(`${at}`, "A46", made({ shifts: 30, seed: 100 * plant + at })),
      );
      const { shifts, groups } = whatStandsOut(streams);
      if (shifts.length + groups.length > 0) loud += 1;
    }
    // 1 % of false shifts and 5 % of false groups: 1.2 of 20 expected, 5 or more in one of a hundred such runs.
    expect(loud).toBeLessThan(5);
  });
});

describe("layoutGroupRows", () => {
  it("has one scale for all rows, and marks what stands out", () => {
    const cell = (mean: number, isOutlying = false) => ({ mean, isOutlying });
    const { rows, ticks } = layoutGroupRows([
      { mean: 1, interval: [0.5, 1.5], cells: [cell(0), cell(2)] },
      { mean: 8, interval: null, cells: [cell(6), cell(10, true)] },
    ]);
    const xOf = (path: string | undefined) => Number(/M(-?[\d.]+)/.exec(path ?? "")?.[1]);
    expect(xOf(rows[0]?.mean)).toBeLessThan(xOf(rows[1]?.mean));
    // 0 to 10 with 4 % of room to either side: 8 lies at 8.4 / 10.8 of 1000.
    expect(Math.abs(xOf(rows[1]?.mean) - 777.8)).toBeLessThan(0.1);
    expect(rows[1]?.outlying).toMatch(/^M963 /);
    expect(rows[1]?.interval).toBe("");
    expect(ticks.every(({ at }) => at >= 0 && at <= 100)).toBe(true);
  });
});
