import { describe, expect, it } from "vitest";
import { extendedScore } from "@/lib/core/control/cases/extended-score";
import { patternFit } from "@/lib/core/control/cases/pattern-fit";
import { streamCorrelation } from "@/lib/core/control/cases/stream-correlation";
import { definiteInverse, quadraticForm } from "@/lib/core/control/cases/symmetric-matrix";
import { CoreError } from "@/lib/core/errors";
import { sampleSd } from "@/lib/core/numerics/descriptive-statistics";
import { expectDigits } from "@/tests/helpers/expect-digits";

const MATRIX = Float64Array.of(4, 1, 0.5, 1, 3, -0.2, 0.5, -0.2, 2);

describe("definiteInverse", () => {
  it("agrees with numpy", () => {
    // numpy 2.4.6, linalg.inv and slogdet
    const { inverse, logDeterminant } = definiteInverse(MATRIX, 3);
    expectDigits(inverse[0]!, 0.2853039731929153, 13);
    expectDigits(inverse[1]!, -0.10052656773575874, 13);
    expectDigits(inverse[5]!, 0.062230732407850646, 13);
    expectDigits(inverse[8]!, 0.5265677357587362, 13);
    expectDigits(logDeterminant, 3.039270575568475, 13);
    // 4 + 2 * 2 * 1 + 4 * 3 by hand, x = (1, 2, 0)
    expectDigits(quadraticForm(MATRIX, Float64Array.of(1, 2, 0)), 20, 14);
  });

  it("refuses a matrix that is not definite", () => {
    expect(() => definiteInverse(Float64Array.of(1, 1, 1, 1), 2)).toThrow(CoreError);
  });
});

describe("patternFit", () => {
  const estimate = Float64Array.of(1.2, 0.7, -0.3);
  const covariance = Float64Array.of(1, 0.6, 0.1, 0.6, 1, 0.2, 0.1, 0.2, 1).map((r) => r / 9);
  const { inverse } = definiteInverse(covariance, 3);
  const both = Float64Array.of(1, 0.8, 0);
  const third = Float64Array.of(0, 0, 1);

  it("agrees with numpy's normal equations", () => {
    const fit = patternFit(estimate, inverse, [
      { effect: both, sign: 0 },
      { effect: third, sign: 0 },
    ]);
    expectDigits(fit.sizes[0]!, 1.1235294117647057, 12);
    expectDigits(fit.sizes[1]!, -0.25411764705882356, 12);
    expectDigits(fit.explained, 13.69145046943859, 12);
    expectDigits(fit.residual[1]!, -0.19882352941176462, 12);
  });

  it("leaves a size out whose sign is forbidden", () => {
    // numpy, the first column alone
    const fit = patternFit(estimate, inverse, [
      { effect: both, sign: 1 },
      { effect: third, sign: 1 },
    ]);
    expectDigits(fit.sizes[0]!, 1.158653846153846, 12);
    expect(fit.sizes[1]).toBe(0);
    expectDigits(fit.explained, 13.097694813329992, 12);
  });
});

describe("extendedScore", () => {
  const baseline = [3, 4, 5, 5, 5, 6, 7, 8, 9, 12];
  const score = extendedScore(baseline, sampleSd(baseline));

  it("is the normal score of the mid-rank inside and goes on in standard deviations outside", () => {
    // scipy 1.17.1: norm.ppf of (below + ties / 2 + 1 / 2) / 11; outside plus the distance over the sample's sd 2.6749870196985173
    expectDigits(score(5), -0.3487556955170447, 12);
    expectDigits(score(6.5), 0.2298841175792322, 12);
    expectDigits(score(12), 1.3351777361189363, 12);
    expectDigits(score(20), 4.325846453794297, 12);
    expectDigits(score(1), -2.0828449155377773, 12);
  });

  it("refuses a baseline of one value, and one that does not vary", () => {
    expect(() => extendedScore([1], 1)).toThrow(CoreError);
    expect(() => extendedScore([1, 1], 0)).toThrow(CoreError);
  });
});

describe("streamCorrelation", () => {
  it("draws towards none and skips frames without both", () => {
    // By hand: sums 1*2 + 2*3 + 3*7 = 29, 14 and 62, n = 3: 29 / sqrt(14 * 62) * 3 / 11
    const matrix = streamCorrelation(
      [
        [1, 2],
        [2, 3],
        [3, 7],
        [5, null],
      ],
      2,
    );
    expectDigits(matrix[1]!, ((29 / Math.sqrt(14 * 62)) * 3) / 11, 13);
    expect([matrix[0], matrix[2] === matrix[1], matrix[3]]).toEqual([1, true, 1]);
  });
});
