import { describe, expect, it } from "vitest";
import { CoreError } from "@/lib/core/errors";
import { designHarmonics, fitHarmonics } from "@/lib/core/metrology/harmonic-fit";
import { outlierLimit } from "@/lib/core/metrology/outlier-limit";
import { expectDigits } from "@/tests/helpers/expect-digits";

const EIGHTHS = [0, 45, 90, 135, 180, 225, 270, 315];

describe("outlierLimit", () => {
  it("gives the tabled two-sided quantiles of Student's t", () => {
    // 1 % shared over 1 reading = t(0.995): NIST/SEMATECH e-Handbook 1.3.6.7.2, critical values of Student's t.
    const table: [number, number][] = [
      [1, 63.657],
      [2, 9.925],
      [3, 5.841],
      [4, 4.604],
      [5, 4.032],
      [10, 3.169],
      [29, 2.756],
    ];
    // The table prints three decimals.
    for (const [freedom, t] of table)
      expect(Math.abs((outlierLimit(1, freedom) ?? NaN) - t), `${freedom}`).toBeLessThan(6e-4);
  });

  it("says that no outlier can be found without freedom", () => {
    expect(outlierLimit(4, 0)).toBeNull();
  });
});

describe("designHarmonics", () => {
  it("refuses angles that cannot tell the harmonics apart", () => {
    expect(designHarmonics([10, 10, 10], [1])).toMatchObject({ ok: false });
    expect(designHarmonics([0, 180, 360], [1])).toMatchObject({ ok: false });
    expect(designHarmonics([0, 90], [1])).toMatchObject({ ok: false });
  });

  it("throws on an angle that is no number", () => {
    expect(() => designHarmonics([0, 90, NaN], [1])).toThrow(CoreError);
  });
});

describe("fitHarmonics", () => {
  it("finds known harmonics under a large zero", () => {
    const design = designHarmonics(EIGHTHS, [1, 2]);
    if (!design.ok) throw new Error(design.reason);
    const rad = Math.PI / 180;
    // 1e6 is exact in binary and far above the signal.
    const values = Object.freeze(
      EIGHTHS.map((a) => 1e6 + 30 * Math.cos((a - 40) * rad) + 12 * Math.cos(2 * (a - 25) * rad)),
    );
    const fit = fitHarmonics(design.value, values);
    // Synthetic set with a known answer; 1e6 takes six of sixteen digits.
    expectDigits(fit.mean, 1e6, 12);
    expectDigits(fit.harmonics[0]?.amplitude ?? NaN, 30, 9);
    expectDigits(fit.harmonics[0]?.positionDeg ?? NaN, 40, 9);
    expectDigits(fit.harmonics[1]?.amplitude ?? NaN, 12, 9);
    expectDigits(fit.harmonics[1]?.positionDeg ?? NaN, 25, 9);
    expect(fit.outlier).toBeNull();
  });

  it("states the standard error of equally spaced readings, s sqrt(2 / k)", () => {
    const design = designHarmonics(EIGHTHS, [1, 2]);
    if (!design.ok) throw new Error(design.reason);
    const fit = fitHarmonics(design.value, [1, -2, 3, 0.5, -1, 2, 4, -3]);
    // Orthogonal design: variance of a component is 2 s^2 / k (Draper & Smith, Applied Regression Analysis, from memory).
    expectDigits(fit.harmonics[0]?.standardError ?? NaN, (fit.residualSd ?? NaN) * 0.5, 12);
  });

  it("flags one reading that is 0.5 mm off and says by how much", () => {
    const design = designHarmonics(EIGHTHS, [1, 2]);
    if (!design.ok) throw new Error(design.reason);
    const noise = [0.4, -0.9, 1.1, -0.3, 0.8, -1.2, 0.2, 0.6];
    const values = EIGHTHS.map((a, i) => 25 * Math.cos((a * Math.PI) / 180) + (noise[i] ?? 0) + (i === 3 ? 500 : 0));
    const fit = fitHarmonics(design.value, values, 1.2);
    expect(fit.outlierDetectable).toBe(true);
    expect(fit.outlier?.index).toBe(3);
    // The reading was made 500 µm wrong by construction; the noise of the others moves the estimate by a few µm.
    expect(Math.abs((fit.outlier?.deviation ?? NaN) - 500)).toBeLessThan(5);
  });

  it("says where the freedom does not allow to find an outlier", () => {
    const design = designHarmonics([0, 90, 180, 270], [1]);
    if (!design.ok) throw new Error(design.reason);
    const fit = fitHarmonics(design.value, [0, 0, 500, 0], 1.2);
    expect(fit.outlierDetectable).toBe(false);
    expect(fit.outlier).toBeNull();
  });

  it("calls no outlier in clean noise more often than in one set of a hundred", () => {
    const design = designHarmonics(EIGHTHS, [1, 2]);
    if (!design.ok) throw new Error(design.reason);
    let state = 1;
    const uniform = (): number => {
      state = (state * 48271) % 2147483647;
      return state / 2147483647;
    };
    let found = 0;
    for (let i = 0; i < 4000; i += 1) {
      const values = EIGHTHS.map(() => 1.2 * Math.sqrt(-2 * Math.log(uniform())) * Math.cos(2 * Math.PI * uniform()));
      if (fitHarmonics(design.value, values, 1.2).outlier !== null) found += 1;
    }
    expect(found / 4000).toBeLessThanOrEqual(0.01);
  });
});
