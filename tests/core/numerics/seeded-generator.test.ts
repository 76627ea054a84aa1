import { describe, expect, it } from "vitest";
import { CoreError } from "@/lib/core/errors";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";

describe("createSeededGenerator", () => {
  it("gives the integers of the published algorithm from state 1, 2, 3, 4", () => {
    // Source: reference implementation v1.1 of the authors, as the test vector of the Rust package rand_xoshiro prints it.
    const expected = [
      11520, 0, 5927040, 70819200, 2031721883, 1637235492, 1287239034, 3734860849, 3729100597, 4258142804,
    ];
    const generator = createSeededGenerator([1, 2, 3, 4]);
    expect(expected.map(() => generator.uint32())).toEqual(expected);
  });

  it("repeats itself for a seed and differs between seeds", () => {
    const draw = (seed: number) => {
      const generator = createSeededGenerator(seed);
      return Array.from({ length: 5 }, () => [generator.uint32(), generator.uniform(), generator.normal()]);
    };
    expect(draw(7)).toEqual(draw(7));
    expect(draw(7)).not.toEqual(draw(8));
    expect(draw(7)).not.toEqual(draw(7 + 2 ** 32));
  });

  it("draws uniform and normal variates with the moments they must have", () => {
    const generator = createSeededGenerator(41);
    const n = 200_000;
    let [sum, square, fourth, uniforms] = [0, 0, 0, 0];
    for (let i = 0; i < n; i += 1) {
      const z = generator.normal();
      sum += z;
      square += z * z;
      fourth += z ** 4;
      uniforms += generator.uniform();
    }
    // Four standard errors: 1/sqrt(n), sqrt(2/n), sqrt(96/n), 1/sqrt(12 n) (theory of the normal and uniform moments).
    expect(Math.abs(sum / n)).toBeLessThan(4 / Math.sqrt(n));
    expect(Math.abs(square / n - 1)).toBeLessThan(4 * Math.sqrt(2 / n));
    expect(Math.abs(fourth / n - 3)).toBeLessThan(4 * Math.sqrt(96 / n));
    expect(Math.abs(uniforms / n - 0.5)).toBeLessThan(4 / Math.sqrt(12 * n));
  });

  it.each([[-1], [1.5], [Number.NaN], [Infinity], [2 ** 53]])("refuses the seed %s", (seed) => {
    expect(() => createSeededGenerator(seed)).toThrow(CoreError);
  });

  it("refuses a state of zeros", () => {
    expect(() => createSeededGenerator([0, 0, 0, 0])).toThrow(CoreError);
  });
});
