import { CoreError } from "../../errors";
import { createSeededGenerator } from "../../numerics/seeded-generator";
import { compileRunRules, setBitCount } from "../rules/compile-run-rules";
import type { RunRule } from "../rules/run-rules";

export type SimulatedRunLength = Readonly<{
  mean: number;
  standardError: number;
  standardDeviation: number;
  quantiles: readonly number[];
  runs: number;
}>;

/** Points after which a run that has not signalled shows that the rules practically never do. */
const LONGEST_RUN = 5_000_000;

/**
 * Mean run length of run rules on independent normal individuals by simulation, with its standard error.
 *
 * @param rules - any rules, at least 1
 * @param options - shift and ratio as chainRunLength, limit as runRuleChain; runs >= 2, seed integer; probabilities of
 *   the quantiles asked for, each in (0, 1)
 * @returns mean, its standard error, standard deviation and quantiles of the run lengths
 * @throws CoreError out-of-range; not-converged if a run reaches 5,000,000 points without a signal
 */
export function simulatedRunLength(
  rules: readonly RunRule[],
  options: Readonly<{
    shift?: number;
    ratio?: number;
    limit?: number;
    runs?: number;
    seed?: number;
    probabilities?: readonly number[];
  }> = {},
): SimulatedRunLength {
  const { shift = 0, ratio = 1, limit = 3, runs = 10_000, seed = 1, probabilities = [] } = options;
  if (!Number.isInteger(runs) || runs < 2 || runs > 10_000_000) {
    throw new CoreError(
      "out-of-range",
      `simulatedRunLength: runs must be an integer from 2 to 10,000,000; got ${runs}`,
    );
  }
  if (!Number.isFinite(shift) || !(ratio > 0 && ratio < Infinity) || !(limit > 0 && limit < Infinity)) {
    throw new CoreError("out-of-range", "simulatedRunLength: shift must be finite, ratio and limit > 0");
  }
  if (rules.length === 0) {
    throw new CoreError("invalid-argument", "simulatedRunLength: rules must have at least 1 rule; got 0");
  }
  const oneRun = runOnce(rules, { shift, ratio, limit, seed });
  const lengths = new Float64Array(runs);
  let mean = 0;
  let squares = 0;
  for (let run = 0; run < runs; run++) {
    const length = oneRun();
    lengths[run] = length;
    const step = length - mean;
    mean += step / (run + 1);
    squares += step * (length - mean);
  }
  const standardDeviation = Math.sqrt(squares / (runs - 1));
  lengths.sort();
  const quantiles = probabilities.map((probability) => {
    if (!(probability > 0 && probability < 1)) {
      throw new CoreError(
        "out-of-range",
        `simulatedRunLength: probabilities must be above 0 and below 1; got ${probability}`,
      );
    }
    return lengths[Math.min(runs - 1, Math.ceil(probability * runs) - 1)]!;
  });
  return { mean, standardError: standardDeviation / Math.sqrt(runs), standardDeviation, quantiles, runs };
}

/** A function that runs the rules on new values until they signal and gives the number of points. */
function runOnce(
  rules: readonly RunRule[],
  { shift, ratio, limit, seed }: { shift: number; ratio: number; limit: number; seed: number },
): () => number {
  const compiled = compileRunRules(rules);
  const generator = createSeededGenerator(seed);
  const { distances, zoneBits, checks } = compiled;
  const histories = new Int32Array(checks.length);
  const spans = Int32Array.from(checks, ({ span }) => (1 << span) - 1);
  const needs = Int32Array.from(checks, ({ need }) => need);
  return () => {
    histories.fill(0);
    let previous = 0;
    let direction = 0;
    for (let points = 1; points <= LONGEST_RUN; points++) {
      const x = shift + ratio * generator.normal();
      const size = Math.abs(x);
      let lines = 0;
      while (lines < distances.length && size > distances[lines]!) lines++;
      let bits = zoneBits[x < 0 && lines > 0 ? distances.length + lines : lines]!;
      if (x > limit) bits |= compiled.upperLimitBits;
      if (x < -limit) bits |= compiled.lowerLimitBits;
      if (points > 1) {
        const now = x > previous ? 1 : -1;
        bits |= now > 0 ? compiled.risingBits : compiled.fallingBits;
        if (now * direction < 0) bits |= compiled.turningBits;
        direction = now;
      } else direction = 0;
      previous = x;
      let signal = false;
      for (let c = 0; c < histories.length; c++) {
        const history = (histories[c]! << 1) | ((bits >>> c) & 1);
        histories[c] = history;
        if (history & 1 && setBitCount(history & spans[c]!) >= needs[c]!) signal = true;
      }
      if (signal) return points;
    }
    throw new CoreError("not-converged", `simulatedRunLength: no signal in ${LONGEST_RUN} points`);
  };
}
