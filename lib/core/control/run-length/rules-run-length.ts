import { CoreError } from "../../errors";
import { directionRunLength } from "./direction-run-length";
import { chainRunLength, runRuleChain } from "./run-rule-chain";
import type { RunRule } from "../rules/run-rules";
import { simulatedRunLength } from "./simulated-run-length";

export type RulesRunLengthOptions = Readonly<{
  /** Mean of the values in sigma from the centre line; 0 by default. */
  shift?: number;
  /** Standard deviation of the values in sigma of the limits; 1 by default. */
  ratio?: number;
  /** Where beyond-limit rules have their limits, in sigma; 3 by default. */
  limit?: number;
  /** Probabilities of the quantiles asked for, each in (0, 1); 5, 50 and 95 % by default. */
  probabilities?: readonly number[];
  /** Simulated runs and seed where the run length has to be simulated. */
  runs?: number;
  seed?: number;
}>;

export type RunLength = Readonly<{
  /** Mean number of points to the first signal, the signalling point included. */
  mean: number;
  /** Of the mean: 0 where it is exact. */
  standardError: number;
  method: "exact" | "simulation";
  /** Of the run length itself; null where only the mean is known. */
  standardDeviation: number | null;
  /** Run lengths at the probabilities asked for; null where only the mean is known. */
  quantiles: readonly number[] | null;
}>;

/**
 * Run length of any set of run rules on independent normal individuals (or means) from the first point on.
 *
 * @param rules - at least one rule
 * @param options - see RulesRunLengthOptions
 * @returns exact for sets without monotone and alternating rules (Markov chain) and for sets of only those; simulated
 *   with its standard error for mixtures
 * @throws CoreError out-of-range, invalid-argument if there is no rule, not-converged where the rules never signal
 * Accuracy: all printed digits of Champ and Woodall's table, tests/reference/run-rules.json
 * Source: Champ and Woodall 1987, Technometrics 29(4) 393-399
 * @example rulesRunLength(ZONE_TESTS).mean // 91.75
 */
export function rulesRunLength(rules: readonly RunRule[], options: RulesRunLengthOptions = {}): RunLength {
  const { shift = 0, ratio = 1, limit = 3, probabilities = [0.05, 0.5, 0.95] } = options;
  if (rules.length === 0) {
    throw new CoreError("invalid-argument", "rulesRunLength: rules must have at least 1 rule; got 0");
  }
  if (rules.every(({ test }) => test === "monotone" || test === "alternating")) {
    const mean = directionRunLength(rules);
    return { mean, standardError: 0, method: "exact", standardDeviation: null, quantiles: null };
  }
  const chain = runRuleChain(rules, limit);
  if (chain !== null) {
    return { ...chainRunLength(chain, shift, ratio, probabilities), standardError: 0, method: "exact" };
  }
  const simulated = simulatedRunLength(rules, {
    shift,
    ratio,
    limit,
    probabilities,
    ...(options.runs === undefined ? {} : { runs: options.runs }),
    ...(options.seed === undefined ? {} : { seed: options.seed }),
  });
  const { mean, standardError, standardDeviation, quantiles } = simulated;
  return { mean, standardError, method: "simulation", standardDeviation, quantiles };
}
