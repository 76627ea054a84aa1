import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { CoreError } from "@/lib/core/errors";
import {
  autocorrelation,
  isConstant,
  sampleMean,
  sampleSd,
  sampleShape,
  sampleSummary,
} from "@/lib/core/numerics/descriptive-statistics";
import { expectDigits } from "../../helpers/expect-digits";
import normality from "../../reference/anderson-darling.json";
import reference from "../../reference/strd-univariate.json";

type Input = {
  readonly data?: readonly number[];
  readonly data_digits_string?: string;
  readonly generating_rule?: string;
};

/** The data themselves, the digits of pi, or the generating rule (first value, then a pair repeated 500 times). */
function dataOf(input: Input): readonly number[] {
  if (input.data) return input.data;
  if (input.data_digits_string) return [...input.data_digits_string].map(Number);
  const numbers = [...(input.generating_rule ?? "").matchAll(/\d+\.\d+/g)].map(Number);
  const [first = NaN, low = NaN, high = NaN] = numbers;
  return [first, ...Array.from({ length: 500 }, () => [low, high]).flat()];
}

/**
 * Digits of sd and lag-1 autocorrelation per set, 9 or more wherever the decimal data are representable well enough: NumAcc3
 * and NumAcc4 have 1e-7 and 1e-8 of spread per unit of value, so that rounding the *data* to double already costs the rest.
 */
const digits: Record<string, readonly [sd: number, autocorrelation: number]> = {
  "strd-Lew": [14, 14],
  "strd-Lottery": [14, 13],
  "strd-Mavro": [12, 12],
  "strd-Michelso": [13, 13],
  "strd-PiDigits": [14, 13],
  "strd-NumAcc1": [15, 15],
  "strd-NumAcc2": [13, 13],
  "strd-NumAcc3": [9, 9],
  "strd-NumAcc4": [8, 8],
};

describe("NIST StRD univariate certified values", () => {
  it.each(reference.cases)("$id", ({ id, input, expected }) => {
    const x = Object.freeze(dataOf(input));
    const [sd, r1] = digits[id] ?? [NaN, NaN];
    expectDigits(sampleMean(x), expected.mean, 15);
    expectDigits(sampleSd(x), expected.sd_n_minus_1, sd);
    expectDigits(autocorrelation(x), expected.lag1_autocorrelation, r1);
  });
});

describe("sampleShape", () => {
  it("reproduces skewness and kurtosis of data set Lew", () => {
    // scipy values in tests/reference/anderson-darling.json
    const data = reference.cases.find(({ id }) => id === "strd-Lew")?.input.data ?? [];
    const expected = normality.cases.find(({ id }) => id === "ad-strd-Lew")?.expected;
    const shape = sampleShape(data);
    expectDigits(shape.g1, expected?.skewness_g1 ?? NaN, 9);
    expectDigits(shape.g2, expected?.excess_kurtosis_g2 ?? NaN, 12);
    expectDigits(shape.G1, expected?.G1 ?? NaN, 9);
    expectDigits(shape.G2, expected?.G2 ?? NaN, 12);
    expect(() => sampleShape([1, 1, 1, 1])).toThrow(CoreError);
  });
});

describe("descriptive statistics", () => {
  it("do not change with order, and follow a shift by 1e8 and a scale", () => {
    fc.assert(
      fc.property(fc.array(fc.integer({ min: -1000, max: 1000 }), { minLength: 3, maxLength: 60 }), (x) => {
        fc.pre(!isConstant(x));
        const shifted = x.map((v) => v + 1e8);
        expectDigits(sampleSd(shifted), sampleSd(x), 12);
        expectDigits(sampleMean(shifted), sampleMean(x) + 1e8, 15);
        expectDigits(sampleSd([...x].reverse().map((v) => v * 1e-9)), sampleSd(x) * 1e-9, 12);
        expectDigits(autocorrelation(shifted), autocorrelation(x), 9);
      }),
      { seed: 41 },
    );
  });

  it("summarises one value, ties and extremes", () => {
    // definitions
    expect(sampleSummary([3])).toEqual({ n: 1, mean: 3, sd: null, smallest: 3, largest: 3, median: 3 });
    expect(sampleSummary([4, 1, 3, 2])).toMatchObject({ smallest: 1, largest: 4, median: 2.5, mean: 2.5 });
    expect(sampleSd([5, 5, 5])).toBe(0);
  });

  it("refuses nothing, one, constant and NaN", () => {
    expect(() => sampleMean([])).toThrow(CoreError);
    expect(() => sampleSd([1])).toThrow(CoreError);
    expect(() => sampleMean([1, NaN])).toThrow(/index 1/);
    expect(() => autocorrelation([2, 2, 2])).toThrow(CoreError);
    expect(() => autocorrelation([1, 2, 3], 0)).toThrow(CoreError);
  });
});
