import { describe, expect, it } from "vitest";
import { designBore } from "@/lib/core/metrology/bore-seat";
import { rejectedDiameter } from "@/lib/core/metrology/bore-regularity";
import { keyedStepUm } from "@/lib/core/metrology/keyed-step";
import { residualLimit, REPEAT_FACTOR } from "@/lib/core/metrology/residual-limit";
import { sweepRegularity } from "@/lib/core/metrology/sweep-regularity";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { expectDigits } from "@/tests/helpers/expect-digits";

const EIGHT = [0, 45, 90, 135, 180, 225, 270, 315];
const RAD = Math.PI / 180;

describe("residualLimit", () => {
  it("is the upper 0.001 % quantile of chi-square", () => {
    // scipy 1.17.1, scipy.stats.chi2.isf(1e-5, n).
    for (const [n, expected] of [
      [1, 19.51142096465757],
      [2, 23.025850929940457],
      [3, 25.90174974566205],
      [4, 28.473255424006034],
      [5, 30.856189940435904],
      [10, 41.29615796876022],
      [20, 59.044550386801646],
    ] as const)
      expectDigits(residualLimit(n), expected, 10);
    // scipy.stats.norm.isf(0.5e-5).
    expectDigits(REPEAT_FACTOR, 4.417173413469023, 10);
    expect(() => residualLimit(0)).toThrow(/whole number/);
  });
});

describe("sweepRegularity", () => {
  // numpy 2, seed 5: an offset of 65 µm with noise 1.2 rounded to 0.5; +40 from the fifth reading on; +40 at the fourth alone.
  const slipped = [59, 58.5, 25, -24, -18.5, -20, 14, 63.5];
  const burred = [59, 58.5, 25, 16, -58.5, -60, -26, 23.5];
  const clean = [59, 58.5, 25, -24, -58.5, -60, -26, 23.5];

  it("takes a sweep in order for regular", () => {
    expect(sweepRegularity(EIGHT, clean)).toMatchObject({ isIrregular: false, degreesOfFreedom: 3, explanations: [] });
  });

  it("finds a slip of 40 µm and says what it took the centre off by", () => {
    const found = sweepRegularity(EIGHT, slipped);
    // numpy.linalg.lstsq on orders 1 and 2: residual sum of squares 473.2561656862674 with three degrees of freedom.
    expectDigits(found.residualSdUm, 12.559938504178904, 12);
    expect(found.isIrregular).toBe(true);
    const slip = found.explanations.find(({ kind, place }) => kind === "slip" && place === 4);
    // The centre of the clean readings by the same program: 58.71993142, 25.30114537; of the slipped ones 48.71993142, 1.15900974.
    expect(Math.abs((slip?.byUm ?? NaN) - 40)).toBeLessThan(3);
    expect(Math.abs(48.71993142 - (slip?.centreUm[0] ?? NaN) - 58.71993142)).toBeLessThan(2);
    expect(Math.abs(1.15900974 - (slip?.centreUm[1] ?? NaN) - 25.30114537)).toBeLessThan(2);
  });

  it("finds a single wrong reading, and no slip that would explain it", () => {
    const found = sweepRegularity(EIGHT, burred);
    expect(found.isIrregular).toBe(true);
    expect(found.explanations.map(({ kind, place }) => `${kind} ${place}`)).toEqual(["reading 3"]);
    expect(Math.abs((found.explanations[0]?.byUm ?? NaN) - 40)).toBeLessThan(4);
  });

  it("calls no more than a few good sweeps in a hundred thousand irregular, at any number of angles", () => {
    const random = createSeededGenerator(7);
    for (const k of [6, 7, 8, 12]) {
      const angles = Array.from({ length: k }, (_, i) => (i * 360) / k);
      let irregular = 0;
      for (let sweep = 0; sweep < 20_000; sweep += 1) {
        const readings = angles.map((angle) => Math.round(60 * Math.cos(angle * RAD) + 1.2 * random.normal()));
        if (sweepRegularity(angles, readings, { stepUm: 1 }).isIrregular) irregular += 1;
      }
      // Level 1e-5 at most: 0.2 expected in 20,000; three or more by chance once in nine hundred.
      expect(irregular, `${k} angles`).toBeLessThan(3);
    }
  });

  it("takes nothing for irregular that comes of a dial in steps of 10 µm, and still sees a slip of 40", () => {
    const random = createSeededGenerator(11);
    for (let sweep = 0; sweep < 2_000; sweep += 1) {
      const readings = EIGHT.map((angle) => 10 * Math.round((6 * Math.cos(angle * RAD) + 1.2 * random.normal()) / 10));
      expect(sweepRegularity(EIGHT, readings, { stepUm: 10 }).isIrregular).toBe(false);
    }
    expect(sweepRegularity(EIGHT, [0, 0, 0, 0, 40, 40, 40, 40], { stepUm: 10 }).isIrregular).toBe(true);
  });

  it("lets an oval pass where the sweep has no room for it: fitted from six angles on, taken off as the diameters give it below", () => {
    const oval = (angle: number): number => 12 * Math.cos(2 * (angle - 20) * RAD);
    const of = (k: number) => Array.from({ length: k }, (_, i) => (i * 360) / k);
    expect(sweepRegularity(of(6), of(6).map(oval)).isIrregular).toBe(false);
    expect(sweepRegularity(of(5), of(5).map(oval)).degreesOfFreedom).toBe(0);
    const known = { cosUm: 12 * Math.cos(40 * RAD), sinUm: 12 * Math.sin(40 * RAD), errorUm: 0.5 };
    for (const k of [4, 5, 6]) {
      expect(sweepRegularity(of(k), of(k).map(oval), { oval: known })).toMatchObject({ isIrregular: false });
      expect(sweepRegularity(of(k), of(k).map(oval), { oval: { ...known, cosUm: 0, sinUm: 0 } }).isIrregular).toBe(
        true,
      );
    }
  });

  it("tests nothing with three angles, and refuses what is no sweep", () => {
    expect(sweepRegularity([0, 120, 240], [0, 100, -50])).toMatchObject({ degreesOfFreedom: 0, isIrregular: false });
    expect(() => sweepRegularity([0, 90], [1])).toThrow(/as many/);
    expect(() => sweepRegularity([0, 90, 180], [1, NaN, 2])).toThrow(/finite/);
  });
});

describe("keyedStepUm", () => {
  it("tells a coarse dial from a fine one, and says nothing of few or equal readings", () => {
    expect(keyedStepUm([0, 10, 10, 0, -10, 0, 0, 10])).toBe(10);
    expect(keyedStepUm([0, 11, 10, 0, -10, 0, 0, 10])).toBe(1);
    expect(keyedStepUm([0, 10.5, 10, 0, -10, 0, 0, 10])).toBe(0.5);
    expect(keyedStepUm([40.97, 40.98, 40.97, 40.96, 40.97, 40.98, 40.97, 40.98].map((mm) => mm * 1000))).toBe(10);
    expect(keyedStepUm([10, 20, 30])).toBe(0);
    expect(keyedStepUm(Array.from({ length: 8 }, () => 100))).toBe(0);
  });
});

describe("rejectedDiameter", () => {
  const due = [2, 8].flatMap((depthMm) => [0, 45, 90, 135].map((directionDeg) => ({ depthMm, directionDeg })));
  const design = designBore(due.map((one, index) => ({ ...one, index })));
  const sizes = due.map(({ depthMm, directionDeg }, i) => {
    const noise = [1, -1, 0, 2, -2, 0, 1, -1][i] ?? 0;
    return 40.975 + (8 * Math.cos(2 * (directionDeg - 30) * RAD) - 0.4 * depthMm + noise) / 1000;
  });

  it("accepts a seat with an oval and a taper", () => {
    expect(rejectedDiameter(design, sizes)).toBeNull();
  });

  it("names the one reading that the others reject, and by how much", () => {
    const burred = sizes.map((size, i) => (i === 5 ? size - 0.04 : size));
    const found = rejectedDiameter(design, burred);
    expect(found?.index).toBe(5);
    expect(Math.abs((found?.byUm ?? NaN) + 40)).toBeLessThan(4);
  });

  it("names none where two are off, or where too few are left to say", () => {
    expect(
      rejectedDiameter(
        design,
        sizes.map((size, i) => (i === 1 || i === 6 ? size - 0.04 : size)),
      ),
    ).toBeNull();
    expect(
      rejectedDiameter(
        design,
        sizes.map((size, i) => (i > 3 ? null : i === 1 ? size - 0.04 : size)),
      ),
    ).toBeNull();
  });
});
