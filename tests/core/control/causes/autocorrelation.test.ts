import { describe, expect, it } from "vitest";
import { autocorrelation, autocorrelationEffect } from "@/lib/core/control/causes/autocorrelation";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { expectDigits } from "@/tests/helpers/expect-digits";
import strd from "@/tests/reference/strd-univariate.json";

const valueOf = (values: readonly number[], lag?: number) => {
  const result = autocorrelation(values, lag);
  if (!result.ok) throw new Error(result.reason);
  return result.value;
};

describe("autocorrelation", () => {
  // NIST StRD, univariate summary statistics: certified lag-1 coefficients
  const sets = strd.cases as unknown as {
    id: string;
    input: { data?: number[]; data_digits_string?: string };
    expected: { lag1_autocorrelation: number };
  }[];
  const digits: Record<string, number> = {
    "strd-Michelso": 12,
    "strd-Mavro": 12,
    "strd-Lew": 14,
    "strd-PiDigits": 12,
    "strd-NumAcc1": 15,
  };

  it.each(sets.filter(({ id }) => id in digits))(
    "gives the certified coefficient of $id",
    ({ id, input, expected }) => {
      const data = input.data ?? [...input.data_digits_string!].map(Number);
      expectDigits(valueOf(data), expected.lag1_autocorrelation, digits[id]!);
    },
  );

  it.each([
    // certified -0.999; the values themselves are 1e6 + 0.1 k rounded to 1e-10: 9 digits is what double precision allows
    ["NumAcc2", 1, 12],
    ["NumAcc3", 1_000_000, 9],
  ])("gives the certified coefficient of %s", (_, base, count) => {
    const data = Array.from({ length: 1001 }, (_, index) =>
      index === 0 ? base + 0.2 : base + (index % 2 === 1 ? 0.1 : 0.3),
    );
    expectDigits(valueOf(data), -0.999, count);
  });

  it("gives higher lags and a reason where nothing varies", () => {
    // elementary: deviations -1, 1, -1, 1
    expectDigits(valueOf([1, 3, 1, 3], 2), 0.5, 12);
    expect(autocorrelation([2, 2, 2])).toEqual({ ok: false, reason: expect.stringMatching(/equal/) });
    expect(() => autocorrelation([1, 2])).toThrow(expect.objectContaining({ code: "too-few-values" }));
    expect(() => autocorrelation([1, 2, Number.NaN])).toThrow(expect.objectContaining({ code: "not-finite" }));
    expect(() => autocorrelation([1, 2, 3], 0)).toThrow(expect.objectContaining({ code: "out-of-range" }));
  });
});

describe("autocorrelationEffect", () => {
  const series = (phi: number) => {
    const generator = createSeededGenerator(41);
    let value = 0;
    return Array.from({ length: 400 }, () => (value = phi * value + generator.normal()));
  };
  const effectOf = (values: readonly number[]) => {
    const effect = autocorrelationEffect(values);
    if (!effect.ok) throw new Error(effect.reason);
    return effect;
  };

  it("warns of values that are alike, with how far limits are too narrow", () => {
    const { value, warnings } = effectOf(series(0.6));
    expect(value.significant).toBe(true);
    expect(Math.abs(value.lag1 - 0.6)).toBeLessThan(0.1);
    expectDigits(value.sigmaRatio, Math.sqrt(1 - value.lag1), 12);
    expect(value.falseAlarmRatio).toBeGreaterThan(10);
    expect(warnings[0]).toMatch(/too narrow/);
  });

  it("warns of values that alternate and is silent about independent ones", () => {
    expect(effectOf(series(-0.6)).warnings[0]).toMatch(/too wide/);
    expect(effectOf(series(0)).warnings).toEqual([]);
  });

  it("answers with a reason for few and for equal values", () => {
    expect(autocorrelationEffect([1, 2, 3]).ok).toBe(false);
    expect(autocorrelationEffect(new Array<number>(20).fill(7)).ok).toBe(false);
  });
});
