import { CoreError } from "../errors";

/** A stream of pseudo-random numbers that is the same for the same seed on every machine. */
export type SeededGenerator = {
  /** Integer in [0, 2^32). */
  readonly uint32: () => number;
  /** Uniform in [0, 1), 53 bits. */
  readonly uniform: () => number;
  /** Standard normal variate. */
  readonly normal: () => number;
};

/** State of 4 x 32 bits, not all zero. */
export type GeneratorState = readonly [number, number, number, number];

function rotateLeft(x: number, k: number): number {
  return (x << k) | (x >>> (32 - k));
}

/** Four well mixed words from one seed (splitmix32: Weyl sequence with a murmur finaliser). */
function stateFromSeed(seed: number): GeneratorState {
  let weyl = (Math.trunc(seed / 0x1_0000_0000) ^ seed) | 0;
  const next = (): number => {
    weyl = (weyl + 0x9e3779b9) | 0;
    let z = weyl;
    z = Math.imul(z ^ (z >>> 16), 0x85ebca6b);
    z = Math.imul(z ^ (z >>> 13), 0xc2b2ae35);
    return (z ^ (z >>> 16)) >>> 0;
  };
  return [next(), next(), next(), next()];
}

/**
 * Seeded generator of uniform and normal variates: xoshiro128** 1.1.
 *
 * @param seed - integer in [0, 2^53), or the four words of the state
 * @returns a generator; each has its own state
 * @throws CoreError invalid-argument for a seed that is no such integer, or a state of zeros
 * Method: normal variates by the polar method, in pairs.
 * Accuracy: the integer sequence of the published algorithm (tests/core/numerics/seeded-generator.test.ts)
 * Source: Blackman & Vigna 2021, Scrambled linear pseudorandom number generators, ACM TOMS 47(4) 36; Marsaglia & Bray
 *   1964, SIAM Review 6(3) 260-264
 */
export function createSeededGenerator(seed: number | GeneratorState): SeededGenerator {
  if (typeof seed === "number" && (!Number.isSafeInteger(seed) || seed < 0))
    throw new CoreError(
      "invalid-argument",
      `createSeededGenerator: seed must be an integer from 0 to 2^53 - 1; got ${seed}`,
    );
  let [s0, s1, s2, s3] = typeof seed === "number" ? stateFromSeed(seed) : seed;
  if ((s0 | s1 | s2 | s3) === 0)
    throw new CoreError("invalid-argument", "createSeededGenerator: state must not be all zero; got 0, 0, 0, 0");
  let spare: number | null = null;

  function uint32(): number {
    const result = Math.imul(rotateLeft(Math.imul(s1, 5), 7), 9) >>> 0;
    const t = s1 << 9;
    s2 ^= s0;
    s3 ^= s1;
    s1 ^= s2;
    s0 ^= s3;
    s2 ^= t;
    s3 = rotateLeft(s3, 11);
    return result;
  }

  function uniform(): number {
    const high = uint32() >>> 5;
    const low = uint32() >>> 6;
    return (high * 0x400_0000 + low) / 0x20_0000_0000_0000;
  }

  function normal(): number {
    if (spare !== null) {
      const value = spare;
      spare = null;
      return value;
    }
    for (;;) {
      const u = 2 * uniform() - 1;
      const v = 2 * uniform() - 1;
      const square = u * u + v * v;
      if (square >= 1 || square <= 0) continue;
      const factor = Math.sqrt((-2 * Math.log(square)) / square);
      spare = v * factor;
      return u * factor;
    }
  }

  return { uint32, uniform, normal };
}
