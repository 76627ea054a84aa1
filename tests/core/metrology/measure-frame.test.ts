import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { CoreError } from "@/lib/core/errors";
import {
  compileMeasurement,
  featureRow,
  measureFrame,
  unseenSweepDirections,
} from "@/lib/core/metrology/measure-frame";
import { fullPlan, routinePlan } from "@/lib/core/metrology/measuring-plan";
import { formatReadingName, parseReadingName, type ReadingName } from "@/lib/core/metrology/reading-name";
import { FEATURE_NAMES, type FeatureName } from "@/lib/core/metrology/features";
import { DEMONSTRATION_DRAWINGS, PRESS_FIT_41 } from "@/lib/quality/demonstration-drawings";
import { expectDigits } from "@/tests/helpers/expect-digits";

const RAD = Math.PI / 180;
const SEED = { seed: 41, numRuns: 100 };

/** A shell whose answer is known: sizes mm, the rest µm and µm per mm. */
type Shell = {
  readonly size: number;
  readonly taper: number;
  readonly a2: number;
  readonly at2: number;
  readonly offset12: number;
  readonly offset3: number;
  readonly slope12: number;
  readonly slope3: number;
  readonly face: number;
  readonly faceAt: number;
  readonly width: number;
};

const ROUND: Shell = {
  size: 40.975,
  taper: 0,
  a2: 0,
  at2: 0,
  offset12: 0,
  offset3: 0,
  slope12: 0,
  slope3: 0,
  face: 0,
  faceAt: 0,
  width: 86.5,
};

/** NDS axis in the frame of the DS axis: offset at x = 81.5 (middle of its sections), slope along x. */
function reading(shell: Shell, name: ReadingName): number {
  switch (name.kind) {
    case "bore":
      return (
        shell.size +
        (shell.taper / 1000) * ((name.depthMm - 2) / 6) +
        (2 * shell.a2 * Math.cos(2 * (name.directionDeg - shell.at2) * RAD)) / 1000
      );
    case "sweep": {
      const along = 86.5 - name.depthMm - 81.5;
      const y = shell.offset12 + shell.slope12 * along;
      const z = shell.offset3 + shell.slope3 * along;
      const oval = shell.a2 * Math.cos(2 * (name.angleDeg - shell.at2) * RAD);
      return 120 + y * Math.cos(name.angleDeg * RAD) + z * Math.sin(name.angleDeg * RAD) + oval;
    }
    case "face":
      return 15 + (shell.face / 2) * Math.cos((name.angleDeg - shell.faceAt) * RAD);
    case "width": {
      // Both faces lean the same way outwards; the NDS face turns with its axis: x = -slope r.
      const lean = shell.face * Math.cos((name.clockDeg - shell.faceAt) * RAD);
      const turn = shell.slope12 * Math.cos(name.clockDeg * RAD) + shell.slope3 * Math.sin(name.clockDeg * RAD);
      return shell.width + (lean - 22 * turn) / 1000;
    }
    default:
      return 0;
  }
}

const plan = fullPlan(PRESS_FIT_41);
const compiled = compileMeasurement(plan, PRESS_FIT_41);
const read = (shell: Shell): number[] => plan.map((name) => reading(shell, name));

function name(text: string): ReadingName {
  const parsed = parseReadingName(text);
  if (!parsed.ok) throw new Error(parsed.reason);
  return parsed.value;
}

const shells = fc.record({
  size: fc.double({ min: 40.5, max: 41.5, noNaN: true }),
  taper: fc.double({ min: -30, max: 30, noNaN: true }),
  a2: fc.double({ min: 0, max: 20, noNaN: true }),
  at2: fc.double({ min: 0, max: 180, noNaN: true }),
  offset12: fc.double({ min: -90, max: 90, noNaN: true }),
  offset3: fc.double({ min: -90, max: 90, noNaN: true }),
  slope12: fc.double({ min: -2, max: 2, noNaN: true }),
  slope3: fc.double({ min: -2, max: 2, noNaN: true }),
  face: fc.double({ min: 0, max: 80, noNaN: true }),
  faceAt: fc.double({ min: 0, max: 360, noNaN: true }),
  width: fc.double({ min: 86, max: 87, noNaN: true }),
});

describe("measureFrame on the full plan of 44 readings", () => {
  it("finds every feature of a known shell to 1e-9 mm", () => {
    expect(plan).toHaveLength(44);
    fc.assert(
      fc.property(shells, (shell) => {
        const { features, warnings } = measureFrame(compiled, Object.freeze(read(shell)));
        const is = (feature: FeatureName, expected: number, tolerance: number): void => {
          expect(Math.abs((features[feature].value ?? NaN) - expected), feature).toBeLessThan(tolerance);
        };
        // Known by construction; µm features to 1e-6 µm = 1e-9 mm, arc minutes to 1e-7 (mrad over 6 mm).
        for (const seat of ["ds", "nds"] as const) {
          is(`${seat}.bore.mean`, shell.size + shell.taper / 2000, 1e-9);
          is(`${seat}.ovality`, 4 * shell.a2, 1e-6);
          is(`${seat}.taper`, shell.taper, 1e-6);
          is(`${seat}.face`, shell.face, 1e-6);
        }
        is("offset.12", shell.offset12, 1e-6);
        is("offset.3", shell.offset3, 1e-6);
        const at = (along: number): number =>
          Math.hypot(shell.offset12 + along * shell.slope12, shell.offset3 + along * shell.slope3);
        is("coaxiality", 2 * Math.max(at(3), at(-3)), 1e-6);
        const line = [shell.offset12 / 76.5, shell.offset3 / 76.5] as const;
        const arcmin = (y: number, z: number): number => Math.hypot(y, z) * (10.8 / Math.PI);
        // Small angles: the exact angle differs from the slope by less than 1e-5 of it.
        is("ds.tilt", arcmin(...line), 1e-4);
        is("nds.tilt", arcmin(shell.slope12 - line[0], shell.slope3 - line[1]), 1e-4);
        is("width.mean", shell.width, 1e-9);
        expect(warnings).toEqual([]);
      }),
      SEED,
    );
  });

  it("gives a parallel offset of 0.05 mm the tilts and the common zone of the published case", () => {
    const { features } = measureFrame(compiled, read({ ...ROUND, offset12: 50 }));
    // geometry.json parallel-offset-2-8: 2.25 arc minutes; by the definition of the common axis: 0.004 mm to the common axis.
    expect(Math.abs((features["ds.tilt"].value ?? NaN) - 2.25)).toBeLessThan(5.1e-3);
    expect(Math.abs((features["nds.tilt"].value ?? NaN) - 2.25)).toBeLessThan(5.1e-3);
    expect(Math.abs((features["coaxiality.common"].value ?? NaN) - 3.9)).toBeLessThan(0.051);
    expectDigits(features.coaxiality.value ?? NaN, 100, 10);
  });

  it("does not change when the plan comes in another order", () => {
    fc.assert(
      fc.property(shells, fc.shuffledSubarray(plan, { minLength: 44 }), (shell, order) => {
        const here = measureFrame(compiled, read(shell)).features;
        const there = measureFrame(
          compileMeasurement(order, PRESS_FIT_41),
          order.map((n) => reading(shell, n)),
        ).features;
        for (const feature of FEATURE_NAMES)
          expect(Math.abs((here[feature].value ?? NaN) - (there[feature].value ?? NaN)), feature).toBeLessThan(1e-6);
      }),
      { ...SEED, numRuns: 30 },
    );
  });

  it("does not change when the clock turns or the shell is seen from the other side, but for positions", () => {
    const moved = (n: ReadingName, turn: number, mirror: boolean): ReadingName => {
      const angle = (a: number): number => ((((mirror ? -a : a) + turn) % 360) + 360) % 360;
      if (n.kind === "bore") return { ...n, directionDeg: angle(n.directionDeg) % 180 };
      if (n.kind === "width") return { ...n, clockDeg: angle(n.clockDeg) };
      return n.kind === "sweep" || n.kind === "face" ? { ...n, angleDeg: angle(n.angleDeg) } : n;
    };
    fc.assert(
      fc.property(shells, fc.constantFrom(0, 45, 90, 270), fc.boolean(), (shell, turn, mirror) => {
        const here = measureFrame(compiled, read(shell)).features;
        const names = plan.map((n) => moved(n, turn, mirror));
        const there = measureFrame(compileMeasurement(names, PRESS_FIT_41), read(shell)).features;
        for (const feature of FEATURE_NAMES)
          if (!feature.startsWith("offset"))
            expect(Math.abs((here[feature].value ?? NaN) - (there[feature].value ?? NaN)), feature).toBeLessThan(1e-6);
        const [y, z] = [here["offset.12"].value ?? NaN, (here["offset.3"].value ?? NaN) * (mirror ? -1 : 1)];
        const [cos, sin] = [Math.cos(turn * RAD), Math.sin(turn * RAD)];
        expect(Math.abs((there["offset.12"].value ?? NaN) - (y * cos - z * sin))).toBeLessThan(1e-6);
        expect(Math.abs((there["offset.3"].value ?? NaN) - (y * sin + z * cos))).toBeLessThan(1e-6);
      }),
      { ...SEED, numRuns: 60 },
    );
  });

  it("answers plain data, one number or null per feature", () => {
    const measurement = measureFrame(compiled, read(ROUND));
    expect(JSON.parse(JSON.stringify(measurement))).toEqual(measurement);
    expect(featureRow(measurement)).toHaveLength(FEATURE_NAMES.length);
    expect(featureRow(measurement).every((value) => value !== null)).toBe(true);
  });

  it("has the 44 and 28 readings of full and routine plan for every demonstration drawing", () => {
    for (const drawing of DEMONSTRATION_DRAWINGS) {
      expect(new Set(fullPlan(drawing).map(formatReadingName)).size).toBe(44);
      expect(new Set(routinePlan(drawing).map(formatReadingName)).size).toBe(28);
    }
  });
});

describe("measureFrame with less than everything", () => {
  it("gives the offset but no tilt from one swept section, and says so", () => {
    const names = [0, 90, 180, 270].map((a) => name(`nds.sweep.2@${a}`));
    const { features } = measureFrame(compileMeasurement(names, PRESS_FIT_41), [50, 20, -10, 20]);
    expectDigits(features["offset.12"].value ?? NaN, 30, 12);
    expectDigits(features.coaxiality.value ?? NaN, 60, 12);
    expect(features["nds.tilt"]).toEqual({
      value: null,
      reason: "not estimable: one swept section gives the offset, not the tilt",
    });
    expect(features["ds.bore.mean"]).toEqual({ value: null, reason: "the plan has no readings for it" });
  });

  it("sweeps the DS seat about the NDS axis as well", () => {
    const names = [2, 8].flatMap((d) => [0, 90, 180, 270].map((a) => name(`ds.sweep.${d}@${a}`)));
    const compiledDs = compileMeasurement(names, PRESS_FIT_41);
    const values = names.map((n) => (n.kind === "sweep" ? 50 * Math.cos(n.angleDeg * RAD) : 0));
    const { features, swept } = measureFrame(compiledDs, values);
    expect(swept[0]?.swept).toBe("ds");
    // Parallel offset of 0.05 mm again, now with the NDS as datum: the same geometry.
    expect(Math.abs((features["ds.tilt"].value ?? NaN) - 2.25)).toBeLessThan(5.1e-3);
    expect(Math.abs((features["nds.tilt"].value ?? NaN) - 2.25)).toBeLessThan(5.1e-3);
    expect(compiledDs.covered.map(({ name: n, seat }) => `${n} ${seat}`)).toEqual([
      "coaxiality ds",
      "tilt ds",
      "tilt nds",
    ]);
  });

  it("computes what it can without the missing readings and lists them", () => {
    const shell = { ...ROUND, offset12: 30, slope3: 1 };
    const values: (number | null)[] = read(shell);
    const missing = [0, 17, 30];
    for (const index of missing) values[index] = null;
    const whole = measureFrame(compiled, read(shell)).features;
    const part = measureFrame(compiled, values);
    expect(part.missing).toEqual(missing);
    // Noise-free readings: what is left tells the same.
    for (const feature of FEATURE_NAMES)
      expect(Math.abs((part.features[feature].value ?? NaN) - (whole[feature].value ?? NaN)), feature).toBeLessThan(
        1e-5,
      );
  });

  it("is not estimable when all readings of a feature are missing", () => {
    const values: (number | null)[] = plan.map(() => null);
    const { features, missing } = measureFrame(compiled, values);
    expect(missing).toHaveLength(44);
    for (const feature of FEATURE_NAMES) {
      expect(features[feature].value, feature).toBeNull();
      expect(features[feature].reason, feature).toBeTruthy();
    }
  });

  it("does not count plug and bar among the missing numbers", () => {
    const names = [name("ds.bore.2@12-6"), name("ds.plug.40.95"), name("bar.A")];
    expect(measureFrame(compileMeasurement(names, PRESS_FIT_41), [40.97, null, null]).missing).toEqual([]);
  });
});

describe("measureFrame on bad input", () => {
  it("refuses NaN, infinity and the wrong number of values", () => {
    const values = read(ROUND);
    expect(() => measureFrame(compiled, values.slice(1))).toThrow(CoreError);
    for (const bad of [NaN, Infinity, -Infinity]) {
      const wrong = [...values];
      wrong[5] = bad;
      expect(() => measureFrame(compiled, wrong)).toThrow(/values must be finite or null.*at index 5/);
    }
  });

  it("refuses a plan that asks twice for one reading, or for one at a negative depth", () => {
    const twice = [name("ds.bore.2@12-6"), name("ds.bore.2@6-12")];
    expect(() => compileMeasurement(twice, PRESS_FIT_41)).toThrow(CoreError);
    const negative: ReadingName = { kind: "bore", seat: "ds", depthMm: -2, directionDeg: 0 };
    expect(() => compileMeasurement([negative], PRESS_FIT_41)).toThrow(CoreError);
  });
});

describe("doubts about readings", () => {
  const oval = { ...ROUND, a2: 15, at2: 25, offset12: 20, offset3: 10 };

  it("suspects a sweep that was keyed the wrong way round", () => {
    const good = read(oval);
    expect(measureFrame(compiled, good).warnings).toEqual([]);
    const reversed = plan.map((n) =>
      n.kind === "sweep" ? reading(oval, { ...n, angleDeg: (360 - n.angleDeg) % 360 }) : reading(oval, n),
    );
    const { warnings } = measureFrame(compiled, reversed);
    expect(warnings.map(({ code, depthMm }) => `${code} ${depthMm}`)).toEqual([
      "sweep-maybe-reversed 2",
      "sweep-maybe-reversed 8",
    ]);
    // The oval lies at 25 degrees, mirrored at -25: 50 apart, by construction.
    expectDigits(warnings[0]?.value ?? NaN, 50, 9);
  });

  it("asks for the first two angles only where the readings cannot tell which way round the sweep went", () => {
    const asked = (shell: Parameters<typeof read>[0]) =>
      unseenSweepDirections(compiled, measureFrame(compiled, read(shell)));
    expect(asked(oval)).toEqual([]);
    const both = [2, 8].map((depthMm) => expect.objectContaining({ seat: "nds", depthMm }));
    // No oval clear of noise; an oval on the mirror axis, which looks the same both ways.
    for (const shell of [
      { ...oval, a2: 1 },
      { ...oval, at2: 90 },
    ])
      expect(asked(shell)).toEqual(both);
    expect(asked({ ...oval, a2: 1 })[0]?.firstDeg).toEqual([0, 45]);
    const none = plan.map((n, at) => (n.kind === "sweep" ? null : (read(oval)[at] ?? null)));
    expect(unseenSweepDirections(compiled, measureFrame(compiled, none))).toEqual([]);
  });

  it("suspects nothing where the oval does not stand clear of noise or lies on the mirror axis", () => {
    for (const shell of [
      { ...oval, a2: 1 },
      { ...oval, at2: 90 },
    ]) {
      const reversed = plan.map((n) =>
        n.kind === "sweep" ? reading(shell, { ...n, angleDeg: (360 - n.angleDeg) % 360 }) : reading(shell, n),
      );
      expect(measureFrame(compiled, reversed).warnings).toEqual([]);
    }
  });

  it("names the sweep reading that is 0.5 mm off", () => {
    const values = read(oval);
    const index = plan.findIndex((n) => formatReadingName(n) === "nds.sweep.8@135");
    const noise = [0.7, -1.1, 0.4, 0.2, -0.6, 1.3, -0.8, 0.3];
    const noisy = values.map((value, i) => (plan[i]?.kind === "sweep" ? value + (noise[i % 8] ?? 0) : value));
    noisy[index] = (noisy[index] ?? 0) + 500;
    const found = measureFrame(compiled, noisy).warnings.filter(({ code }) => code === "sweep-outlier");
    expect(found).toHaveLength(1);
    expect(found[0]?.readingIndex).toBe(index);
  });

  it("names the right reading when an earlier one is missing and the sweep closes", () => {
    const names = [0, 30, 60, 90, 120, 150, 180, 210, 240, 270, 300, 330, 360].map((a) => name(`nds.sweep.2@${a}`));
    const closing = compileMeasurement(names, PRESS_FIT_41);
    const noise = [0.7, -1.1, 0.4, 0.2, -0.6, 1.3, -0.8, 0.3, 0.9, -0.2, 0.5, -0.4, 0.6];
    const values: (number | null)[] = names.map((n, i) => reading(ROUND, n) + (noise[i] ?? 0));
    values[1] = null;
    values[7] = (values[7] ?? 0) + 500;
    values[12] = (values[0] ?? 0) + 8;
    const { warnings } = measureFrame(closing, values);
    expect(warnings.map(({ code, readingIndex }) => [code, readingIndex])).toEqual([
      ["sweep-not-closed", null],
      ["sweep-outlier", 7],
    ]);
  });

  it("names the face reading that is 0.5 mm off, and by how much", () => {
    const noise = [0.7, -1.1, 0.4, 0.2, -0.6, 1.3, -0.8, 0.3];
    const names = [0, 45, 90, 135, 180, 225, 270, 315].map((a) => name(`nds.face@${a}`));
    const values = names.map((n, i) => reading(ROUND, n) + (noise[i] ?? 0) + (i === 5 ? 500 : 0));
    const { warnings } = measureFrame(compileMeasurement(names, PRESS_FIT_41), values);
    expect(warnings).toMatchObject([{ code: "face-outlier", seat: "nds", readingIndex: 5 }]);
    // 500 by construction; the noise of the others moves the estimate by a few µm.
    expect(Math.abs((warnings[0]?.value ?? NaN) - 500)).toBeLessThan(5);
  });

  it("says that a face or a width was misread when they disagree beyond their uncertainty", () => {
    const shell = { ...ROUND, face: 30, faceAt: 70, slope12: 0.8 };
    expect(measureFrame(compiled, read(shell)).warnings).toEqual([]);
    const values = read(shell).map((value, i) =>
      formatReadingName(plan[i] ?? name("bar.A")) === "width@3" ? value + 0.1 : value,
    );
    expect(measureFrame(compiled, values).warnings).toMatchObject([{ code: "width-disagrees-with-faces" }]);
  });
});
