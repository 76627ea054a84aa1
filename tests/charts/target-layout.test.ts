import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { boxesOverlap, labelBox } from "@/lib/charts/label-box";
import { layoutSweep, sweepReachUm } from "@/lib/charts/sweep-layout";
import { layoutTarget, type TargetInput } from "@/lib/charts/target-layout";
import { PRESS_FIT_41 } from "@/lib/quality/demonstration-drawings";
import { expectDigits } from "../helpers/expect-digits";

const target: TargetInput = {
  side: "ds",
  sizePx: 700,
  zoneUm: 100,
  baseline: [{ towards12Um: 0, towards3Um: 0 }],
  recent: [
    { towards12Um: 0, towards3Um: 50, serial: "C41-00001" },
    { towards12Um: -51, towards3Um: 0, serial: "C41-00002" },
  ],
  mean: { towards12Um: -15, towards3Um: 26, circleUm: 6 },
  ellipse: { towards12Um: 0, towards3Um: 0, longUm: 30, shortUm: 10, directionDeg: 0 },
  adviseMove: true,
};

// Geometry by hand: a zone of diameter 100 µm has a limit circle of radius 50 µm; 12 is up, 3 right from the drive side.
describe("the target", () => {
  it("draws the limit at half the zone and takes a frame on it as inside", () => {
    const plot = layoutTarget(target);
    expect(plot.outside.map((point) => point.serial)).toEqual(["C41-00002"]);
    const outside = plot.outside[0];
    expectDigits((outside?.y ?? 0) - 350, plot.limitRadius * 1.02, 9);
  });
  it("points the move from the mean to the axis, and only where one is advised", () => {
    expect(layoutTarget(target).move?.to).toEqual({ x: 350, y: 350 });
    expect(layoutTarget({ ...target, adviseMove: false }).move).toBeNull();
  });
  it("stands an ellipse whose long axis points to 12 upright", () => {
    expect(layoutTarget(target).ellipse?.turnDeg).toBe(-90);
  });
  it("mirrors the mean from the non-drive side", () => {
    const from = layoutTarget(target).mean?.x ?? 0;
    expectDigits((layoutTarget({ ...target, side: "nds" }).mean?.x ?? 0) + from, 700, 9);
  });
  it("keeps a frame far outside on the sheet", () => {
    const plot = layoutTarget({ ...target, recent: [{ towards12Um: 4000, towards3Um: 0, serial: "C41-00003" }] });
    expect(plot.outside[0]?.y).toBeGreaterThan(0);
    expect(plot.limitRadius).toBeGreaterThan(100);
  });
});

describe("the words on the target", () => {
  const um = fc.double({ min: -140, max: 140, noNaN: true });
  const point = fc.record({ towards12Um: um, towards3Um: um });
  const cases = fc.record({
    side: fc.constantFrom("ds" as const, "nds" as const),
    zoneUm: fc.constantFrom(30, 100, 250),
    recent: fc.array(point, { maxLength: 30 }),
    mean: fc.option(point),
  });
  it("never meet each other, and the limit and the mean are never left out", () => {
    fc.assert(
      fc.property(cases, ({ side, zoneUm, recent, mean }) => {
        const { labels } = layoutTarget({
          ...target,
          side,
          zoneUm,
          recent: recent.map((each, index) => ({ ...each, serial: `C41-${10_000 + index}` })),
          mean: mean && { ...mean, circleUm: 5 },
        });
        const boxes = labels.map(labelBox);
        boxes.forEach((box, index) => {
          expect(box.left).toBeGreaterThanOrEqual(0);
          expect(box.right).toBeLessThanOrEqual(700);
          for (const other of boxes.slice(index + 1)) expect(boxesOverlap(box, other)).toBe(false);
        });
        // Thirty frames far out are as many as a person looks at; the limit finds a corner among them.
        expect(labels.some(({ kind }) => kind === "limit")).toBe(true);
        expect(labels.some(({ kind }) => kind === "mean")).toBe(mean !== null);
      }),
      { numRuns: 300 },
    );
  });
});

describe("the sweep plot", () => {
  it("lets the limit fill it and shows what conforms well inside", () => {
    const at = (um: number) => [0, 90, 180, 270].map((angleDeg) => ({ angleDeg, valueUm: angleDeg === 0 ? um : 0 }));
    const swing = (um: number) => {
      const plot = layoutSweep({ side: "ds", sizePx: 320, points: at(um), fit: null, askedDeg: null, reachUm: 50 });
      return (160 - (plot.dots[0]?.y ?? 0) - plot.zeroRadius) / (plot.edgeRadius - plot.zeroRadius);
    };
    // One of four values: the mean takes a quarter of it off.
    expect(swing(3)).toBeLessThan(0.05);
    expect(swing(50)).toBeGreaterThan(0.5);
    expect(swing(400)).toBeLessThan(1);
  });
  it("takes the reach from the drawing: half the zone, half the run-out", () => {
    expect(sweepReachUm(PRESS_FIT_41, "sweep")).toBe(50);
    expect(sweepReachUm(PRESS_FIT_41, "face")).toBe(25);
  });

  const points = [0, 90, 180, 270].map((angleDeg) => ({
    angleDeg,
    valueUm: 10 * Math.cos((angleDeg * Math.PI) / 180),
  }));
  it("bulges towards the high side", () => {
    const plot = layoutSweep({ side: "ds", sizePx: 320, points, fit: null, askedDeg: null, reachUm: 10 });
    expect(160 - (plot.dots[0]?.y ?? 0)).toBeGreaterThan((plot.dots[2]?.y ?? 0) - 160);
  });
  it("knows its closing gap only when it was closed", () => {
    expect(
      layoutSweep({ side: "ds", sizePx: 320, points, fit: null, askedDeg: 270, reachUm: 10 }).closureUm,
    ).toBeNull();
    const closed = [...points, { angleDeg: 360, valueUm: 12 }];
    expect(
      layoutSweep({ side: "ds", sizePx: 320, points: closed, fit: null, askedDeg: null, reachUm: 10 }).closureUm,
    ).toBe(2);
  });
  it("draws a fitted curve through a pure offset and stays inside its edge", () => {
    const fit = { meanUm: 0, harmonics: [{ order: 1, cosineUm: 10, sineUm: 0 }] };
    const plot = layoutSweep({ side: "ds", sizePx: 320, points, fit, askedDeg: null, reachUm: 10 });
    const [x = 0, y = 0] = (plot.curve?.slice(1).split("L")[0] ?? "").split(" ").map(Number);
    expect(Math.abs(x - (plot.dots[0]?.x ?? 0))).toBeLessThan(0.06);
    expect(Math.abs(y - (plot.dots[0]?.y ?? 0))).toBeLessThan(0.06);
    expect(160 - y).toBeLessThan(plot.edgeRadius);
  });
});
