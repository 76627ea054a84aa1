import { describe, expect, it } from "vitest";
import { frameSections } from "@/lib/core/metrology/frame-sections";
import { functionalSize } from "@/lib/core/metrology/functional-size";
import { compileMeasurement, measureFrame } from "@/lib/core/metrology/measure-frame";
import { fullPlan } from "@/lib/core/metrology/measuring-plan";
import type { ReadingName } from "@/lib/core/metrology/reading-name";
import { PRESS_FIT_41 } from "@/lib/quality/demonstration-drawings";
import { expectDigits } from "@/tests/helpers/expect-digits";
import reference from "@/tests/reference/seat-geometry.json";

const RAD = Math.PI / 180;

function sections(names: readonly ReadingName[], value: (name: ReadingName) => number) {
  return frameSections(PRESS_FIT_41, measureFrame(compileMeasurement(names, PRESS_FIT_41), names.map(value)));
}

const parallelOffset = (name: ReadingName): number => {
  if (name.kind === "bore") return 40.975;
  return name.kind === "sweep" ? 50 * Math.cos(name.angleDeg * RAD) : 0;
};

describe("frameSections", () => {
  it("gives the largest bar of the published pair from readings: D - 0.0039", () => {
    const [pair] = reference.pair; // parallel offset 0.050, sections 2 and 8 mm in, width 86.5
    expect(pair?.largestBar).toBe("D - 0.0039");
    const size = functionalSize(sections(fullPlan(PRESS_FIT_41), parallelOffset));
    expect(size.ok && Math.abs(size.value.diameterMm - (40.975 - 0.0039))).toBeLessThan(5.1e-5);
  });

  it("places the swept seat off the axis and keeps the oval of the diameters", () => {
    const found = sections(fullPlan(PRESS_FIT_41), (name) =>
      name.kind === "bore" ? 40.975 + 0.02 * Math.cos(2 * (name.directionDeg - 25) * RAD) : parallelOffset(name),
    );
    expect(found.map(({ seat, xMm }) => `${seat} ${xMm}`)).toEqual(["ds 2", "ds 8", "nds 84.5", "nds 78.5"]);
    expect(found[0]?.centre).toEqual({ y: 0, z: 0 });
    expectDigits(found[2]?.centre?.y ?? NaN, 0.05, 9);
    // 4 x A2 = 0.04 by construction, A2 0.010 of the radius at 25 degrees.
    expectDigits(found[3]?.harmonics[0]?.amplitudeMm ?? NaN, 0.01, 9);
    expectDigits(found[3]?.harmonics[0]?.phaseDeg ?? NaN, 25, 9);
  });

  it("uses every lobe that the circles of the same sweep see: three lobes from eight angles", () => {
    // By construction: round seats but for three lobes of 23.5 µm on the NDS seat, all centres on one axis: the largest bar is the
    // inscribed circle, 40.972 - 2 x 0.0235. Diameters show nothing of odd lobes.
    const found = sections(fullPlan(PRESS_FIT_41), (name) => {
      if (name.kind === "bore") return 40.972;
      return name.kind === "sweep" ? 23.5 * Math.cos(3 * (name.angleDeg - 20) * RAD) : 0;
    });
    const size = functionalSize(found);
    expect(size.ok && Math.abs(size.value.diameterMm - 40.925)).toBeLessThan(1e-4);
  });

  it("sees one phase of four lobes with eight angles, and none of five", () => {
    const at = (order: number, turnDeg: number) => {
      const found = sections(fullPlan(PRESS_FIT_41), (name) => {
        if (name.kind === "bore") return 40.975;
        return name.kind === "sweep" ? 10 * Math.cos(order * (name.angleDeg - turnDeg) * RAD) : 0;
      });
      return found.find(({ seat }) => seat === "nds")?.harmonics.find((lobe) => lobe.order === order)?.amplitudeMm;
    };
    expectDigits(at(4, 0) ?? NaN, 0.01, 9);
    // Half of it is seen an eighth of a lobe further.
    expectDigits(at(4, 15) ?? NaN, 0.01 * Math.cos(60 * RAD), 9);
    expect(at(5, 0)).toBeUndefined();
  });

  it("places a section without a sweep of its own on the line through the others", () => {
    const names = fullPlan(PRESS_FIT_41).filter((name) => name.kind === "sweep");
    const bores: ReadingName[] = (["ds", "nds"] as const).map((seat) => ({
      kind: "bore",
      seat,
      depthMm: 5,
      directionDeg: 0,
    }));
    const found = sections([...names, ...bores], (name) =>
      name.kind === "sweep" ? (name.depthMm === 2 ? 60 : 40) * Math.cos(name.angleDeg * RAD) : 40.975,
    );
    const middle = found.find(({ seat, depthMm }) => seat === "nds" && depthMm === 5);
    expectDigits(middle?.centre?.y ?? NaN, 0.05, 9); // half way between 0.06 and 0.04
    expect(found.filter(({ seat }) => seat === "nds")).toHaveLength(3);
  });

  it("has no centre without a sweep and no section without diameters", () => {
    const names = fullPlan(PRESS_FIT_41).filter((name) => name.kind === "bore" && name.seat === "nds");
    const found = sections(names, () => 40.975);
    expect(found).toHaveLength(2);
    expect(found.every(({ centre }) => centre === null)).toBe(true);
  });
});
