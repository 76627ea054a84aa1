import { describe, expect, it } from "vitest";
import { designFrame } from "@/lib/core/metrology/frame-designs";
import { fullPlan, routinePlan } from "@/lib/core/metrology/measuring-plan";
import { missedShare } from "@/lib/core/metrology/missed-share";
import { formAllowance, unseenCentreUm, unseenOf } from "@/lib/core/metrology/plan-blindness";
import type { ReadingName } from "@/lib/core/metrology/reading-name";
import { designSweep } from "@/lib/core/metrology/sweep-harmonics";
import { planUncertainty } from "@/lib/core/metrology/uncertainty-budget";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { PRESS_FIT_41 } from "@/lib/quality/demonstration-drawings";
import { expectDigits } from "@/tests/helpers/expect-digits";

const RAD = Math.PI / 180;
const form = formAllowance(PRESS_FIT_41);
const full = fullPlan(PRESS_FIT_41);
const withAngles = (k: number): ReadingName[] => [
  ...full.filter(({ kind }) => kind !== "sweep"),
  ...[2, 8].flatMap((depthMm) =>
    Array.from({ length: k }, (_, i): ReadingName => ({
      kind: "sweep",
      seat: "nds",
      depthMm,
      angleDeg: (i * 360) / k,
    })),
  ),
];
const withDirections = (directions: readonly number[], depths = [2, 8]): ReadingName[] =>
  (["ds", "nds"] as const).flatMap((seat) =>
    depths.flatMap((depthMm) =>
      directions.map((directionDeg): ReadingName => ({ kind: "bore", seat, depthMm, directionDeg })),
    ),
  );
const unseen = (
  names: readonly ReadingName[],
  name: Parameters<typeof unseenOf>[1],
  seat: "ds" | "nds" | null,
): number => unseenOf({ designs: designFrame(names, PRESS_FIT_41), drawing: PRESS_FIT_41, form }, name, seat);

describe("missedShare", () => {
  it("is the mean square of what a crest has over the nearest reading", () => {
    // numpy, 200,000 phases: 1.5; 0.22676045536; 0.05276164953; 0.01767725391.
    for (const [angles, expected] of [
      [[0], 1.5],
      [[0, 90], 0.2267604553695571],
      [[0, 60, 120], 0.052761649525353366],
      [[0, 45, 90, 135], 0.01767725391295488],
    ] as const)
      expect(Math.abs(missedShare(angles, 2) - expected)).toBeLessThan(1e-4);
  });
});

describe("what a plan cannot see", () => {
  it("is nothing for the full plan, and nothing of a routine plan for its critical characteristics", () => {
    for (const { unseen: part } of planUncertainty(PRESS_FIT_41, full)) expect(part).toBe(0);
    for (const { unseen: part } of planUncertainty(PRESS_FIT_41, routinePlan(PRESS_FIT_41))) expect(part).toBe(0);
  });

  it("are lobes k - 1 and k + 1 of k equal angles, whole, and of no others", () => {
    // numpy.linalg.svd of the pseudo-inverse's rows times cos and sin of the lobe: 1 for k - 1 and k + 1, 0 else (orders 2 to 6).
    for (const [k, amplitude] of [
      [4, 20],
      [5, 20],
      [6, 20],
      [7, 20],
      [8, 0],
      [12, 0],
    ] as const) {
      const sweep = designSweep(Array.from({ length: k }, (_, i) => (i * 360) / k));
      if (!sweep.ok) throw new Error(sweep.reason);
      // The form limit of 40 µm as peak to valley of the radius: amplitude 20.
      expect(Math.abs(unseenCentreUm(sweep.value.harmonics, form) - amplitude), `${k} angles`).toBeLessThan(1e-9);
    }
    const uneven = designSweep([0, 30, 90, 200, 300]);
    if (!uneven.ok) throw new Error(uneven.reason);
    // The same program on these angles: 0.622, 0.894, 0.634, 0.650, 1.2622006792656058 for orders 2 to 6.
    expectDigits(unseenCentreUm(uneven.value.harmonics, form), 20 * 1.2622006792656058, 9);
  });

  it("is in U of a plan of four angles: what 22 µm of three lobes hide of an offset of 60 is not proven", () => {
    const table = planUncertainty(PRESS_FIT_41, withAngles(4));
    const u = table.find(({ name }) => name === "coaxiality")?.uncertainty ?? NaN;
    // GUM: amplitude uniform to 20 µm and any phase, variance 20^2 / 6 a component, twice for a zone, k = 2; the noise's part of
    // 12 grows with half the angles.
    expect(Math.abs(u - Math.hypot(12, 2 * 2 * (20 / Math.sqrt(6))))).toBeLessThan(0.5);
    expect(74 + u).toBeGreaterThan(100);
  });

  it("covers the centre's error in about 95 of 100 seats whose lobes are anything up to the limit", () => {
    const random = createSeededGenerator(3);
    const sweep = designSweep([0, 90, 180, 270]);
    if (!sweep.ok) throw new Error(sweep.reason);
    const { inverse } = sweep.value.harmonics;
    const standard = unseenCentreUm(sweep.value.harmonics, form) / Math.sqrt(6);
    let inside = 0;
    for (let i = 0; i < 20_000; i += 1) {
      const amplitude = 20 * random.uniform();
      const phase = 360 * random.uniform();
      const error = [0, 90, 180, 270].reduce(
        (sum, angle, at) => sum + (inverse[4 + at] ?? 0) * amplitude * Math.cos(3 * (angle - phase) * RAD),
        0,
      );
      if (Math.abs(error) <= 2 * standard) inside += 1;
    }
    expect(inside / 20_000).toBeGreaterThan(0.93);
  });

  it("is the oval between two directions, and the taper where one depth is measured", () => {
    // Diameter amplitude uniform to 20 µm (mean square 400 / 3), missed share of two directions less that of four.
    const two = Math.sqrt((400 / 3) * (0.2267604553695571 - 0.01767725391295488));
    expect(Math.abs(unseen(withDirections([0, 90]), "bore", "ds") - two)).toBeLessThan(0.02);
    // Taper limit 10 µm, uniform: 10 / sqrt(3).
    expect(Math.abs(unseen(withDirections([0, 45, 90, 135], [8]), "bore", "ds") - 10 / Math.sqrt(3))).toBeLessThan(
      0.01,
    );
    expect(unseen(withDirections([0, 45, 90, 135]), "bore", "ds")).toBe(0);
    expect(unseen(withDirections([0, 60, 120]), "bore", "ds")).toBe(0);
    // Half of the swing may lie between the two, wholly where they straddle it.
    expect(unseen(withDirections([0, 90]), "ovality", "ds")).toBeGreaterThan(two);
  });

  it("is the tilt between sections where one is swept, and the oval that three angles take for an offset", () => {
    const one = withAngles(8).filter((name) => name.kind !== "sweep" || name.depthMm === 8);
    // 4 arc minutes over 6 mm: 6.98 µm, uniform amplitude and any phase, twice for the zone.
    expect(Math.abs(unseen(one, "coaxiality", "nds") - (2 * 6.98) / Math.sqrt(6))).toBeLessThan(0.01);
    const three = withAngles(3);
    expect(unseen(three, "coaxiality", "nds")).toBeGreaterThan(2 * (10 / Math.sqrt(6)));
  });

  it("is smaller where the stream's full plans show a finer form than the drawing lets pass", () => {
    const known = { lobeUm: 3, ovalityUm: 8, taperUm: 3 };
    const by = (of: typeof form | undefined) =>
      planUncertainty(PRESS_FIT_41, withAngles(4), of).find(({ name }) => name === "coaxiality")?.uncertainty ?? NaN;
    expect(by(known)).toBeLessThan(by(undefined) / 2);
    expect(by(known)).toBeGreaterThan(12);
  });
});
