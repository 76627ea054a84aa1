import { describe, expect, it } from "vitest";
import { gaugeBias } from "@/lib/core/gauge-studies/gauge-bias";
import { gaugeLinearity } from "@/lib/core/gauge-studies/gauge-linearity";
import { expectDigits } from "@/tests/helpers/expect-digits";
import reference from "@/tests/reference/gauge-studies.json";

const [, , , linearity, single] = reference.cases as unknown as [
  never,
  never,
  never,
  {
    input: { readings_by_reference: Record<string, number[]> };
    expected: Record<string, number> & { mean_bias: Record<string, number> };
    computed: Record<string, number> & { mean_bias: number[]; ci_at_ref: Record<string, [number, number]> };
  },
  { input: { x: number[]; ref: number }; expected: Record<string, number> },
];
const readings = Object.entries(linearity.input.readings_by_reference).flatMap(([size, values]) =>
  values.map((value) => ({ reference: Number(size), value })),
);

describe("gaugeLinearity", () => {
  it("gives the printed line, its tests and its interval at each reference", () => {
    const estimate = gaugeLinearity(readings);
    if (!estimate.ok) throw new Error(estimate.reason);
    const { slope, intercept, residualSd, rSquared, references, meanBias } = estimate.value;
    const { computed, expected } = linearity;
    expectDigits(slope.value, computed.slope ?? 0, 12);
    expectDigits(intercept.value, computed.intercept ?? 0, 12);
    expectDigits(residualSd, computed.s ?? 0, 12);
    expectDigits(rSquared ?? 0, computed.r_squared ?? 0, 11);
    expectDigits(slope.t ?? 0, computed.t_slope ?? 0, 11);
    expectDigits(intercept.t ?? 0, computed.t_intercept ?? 0, 11);
    expectDigits(meanBias, computed.overall_bias ?? 0, 11);
    for (const { reference: size, bias, interval } of references) {
      expect(Math.abs(bias - (expected.mean_bias[String(size)] ?? 0))).toBeLessThan(5e-7);
      const [lower, upper] = computed.ci_at_ref[String(size)] ?? [0, 0];
      // The collection's t point has 9 digits (2.0017174830; 2.0017174841 by 30-digit arithmetic), and one bound is near 0.
      expectDigits(interval[0], lower, 8);
      expectDigits(interval[1], upper, 8);
    }
    expect(references.map(({ isBiased }) => isBiased)).toEqual([true, true, false, true, true]);
  });

  it("answers where nothing scatters, and refuses what makes no line", () => {
    const exact = gaugeLinearity([1, 2, 3, 4].map((size) => ({ reference: size, value: 1.5 * size })));
    if (!exact.ok) throw new Error(exact.reason);
    expectDigits(exact.value.slope.value, 0.5, 14);
    expect(exact.value.slope.t).toBeNull();
    expect(exact.value.residualSd).toBe(0);
    expect(gaugeLinearity([1, 1, 1].map((size) => ({ reference: size, value: 2 })))).toMatchObject({ ok: false });
    expect(gaugeLinearity([1, 2].map((size) => ({ reference: size, value: 2 })))).toMatchObject({ ok: false });
    expect(() => gaugeLinearity([{ reference: 1, value: Number.NaN }])).toThrow(/finite/);
  });

  it("finds a bias that bends", () => {
    const bent = [1, 2, 3, 4, 5].flatMap((size) =>
      [-0.01, 0, 0.01].map((error) => ({ reference: size, value: size + 0.1 * (size - 3) ** 2 + error })),
    );
    const estimate = gaugeLinearity(bent);
    expect(estimate.ok && estimate.value.lackOfFit?.pValue).toBeLessThan(1e-6);
  });
});

describe("gaugeBias", () => {
  it("gives mean and sd of the invented repeatability study", () => {
    const estimate = gaugeBias(single.input.ref, single.input.x);
    if (!estimate.ok) throw new Error(estimate.reason);
    expectDigits(estimate.value.mean, single.expected.mean ?? 0, 12);
    expectDigits(estimate.value.repeatability, single.expected.s ?? 0, 9);
    // t(9, 0.975) = 2.262157 of any table
    const [lower, upper] = estimate.value.interval;
    expectDigits((upper - lower) / 2, (2.262157 * (single.expected.s ?? 0)) / Math.sqrt(10), 6);
  });

  it("has no answer for one reading, or where all are equal", () => {
    expect(gaugeBias(41, [41.001])).toMatchObject({ ok: false, reason: expect.stringContaining("once only") });
    expect(gaugeBias(41, [41.001, 41.001])).toMatchObject({ ok: false, reason: expect.stringContaining("resolve") });
    expect(gaugeBias(0, [1e-200, 2e-200])).toMatchObject({ ok: false, reason: expect.stringContaining("differ by") });
    expect(() => gaugeBias(41, [])).toThrow(/at least/);
  });
});
