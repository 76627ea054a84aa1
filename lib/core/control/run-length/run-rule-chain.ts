import { CoreError } from "../../errors";
import { normalInterval } from "../../distributions/normal";
import { compileRunRules, setBitCount, type CompiledRunRules } from "../rules/compile-run-rules";
import type { RunRule } from "../rules/run-rules";

/**
 * Run rules on independent individuals as a Markov chain that ends at the first signal. A state is what the rules
 * remember; only states that can be reached are kept. Plain data, independent of the shift.
 */
export type RunRuleChain = Readonly<{
  states: number;
  /** Ends of the zones on the axis of standardised values, ascending, from -Infinity to Infinity. */
  zones: readonly Readonly<{ low: number; high: number; symbol: number }>[];
  symbols: number;
  /** next[state * symbols + symbol]: state after a point of that symbol, -1 where it signals. State 0 is the start. */
  next: Int32Array;
}>;

/** A rule set whose chain grows beyond this has no use for exactness: simulate it. */
const MAX_STATES = 60_000;

/**
 * Builds the chain of a rule set.
 *
 * @param rules - rules without monotone and alternating ones, whose memory is a value and not a zone
 * @param limit - where a beyond-limit rule without its own distance has its limits: number of sigmas > 0
 * @returns the chain, or null if the rules depend on directions or the chain grows beyond 60,000 states
 * @throws CoreError as compileRunRules; invalid-argument if there is no rule
 * Method: breadth-first over bit histories; of a run only its length is remembered, of k of m the last m - 1 bits that
 *   can still count, so that equivalent histories fall into one state.
 * Source: Champ and Woodall 1987, Technometrics 29(4) 393-399; Page 1955, Biometrika 42 243-257
 */
export function runRuleChain(rules: readonly RunRule[], limit = 3): RunRuleChain | null {
  if (rules.length === 0)
    throw new CoreError("invalid-argument", "runRuleChain: rules must have at least 1 rule; got 0");
  const compiled = compileRunRules(rules);
  if ((compiled.risingBits | compiled.fallingBits | compiled.turningBits) !== 0) return null;
  const { zones, bits } = symbolsOf(compiled, limit);
  const symbols = bits.length;
  const { checks } = compiled;
  const histories: number[][] = [checks.map(() => 0)];
  const known = new Map<string, number>([[histories[0]!.join(), 0]]);
  const next: number[] = [];
  for (let state = 0; state < histories.length; state++) {
    for (let symbol = 0; symbol < symbols; symbol++) {
      const after = step(compiled, histories[state]!, bits[symbol]!);
      if (after === null) {
        next.push(-1);
        continue;
      }
      const key = after.join();
      let index = known.get(key);
      if (index === undefined) {
        index = histories.length;
        if (index >= MAX_STATES) return null;
        known.set(key, index);
        histories.push(after);
      }
      next.push(index);
    }
  }
  return { states: histories.length, zones, symbols, next: Int32Array.from(next) };
}

/** What is remembered after one more point, or null at a signal. */
function step({ checks }: CompiledRunRules, histories: readonly number[], bits: number): number[] | null {
  const after: number[] = [];
  for (let c = 0; c < checks.length; c++) {
    const { need, span } = checks[c]!;
    const bit = (bits >>> c) & 1;
    if (need === span) {
      const length = bit === 1 ? histories[c]! + 1 : 0;
      if (length >= need) return null;
      after.push(length);
      continue;
    }
    const history = ((histories[c]! << 1) | bit) & ((1 << span) - 1);
    if (bit === 1 && setBitCount(history) >= need) return null;
    after.push(usefulBits(history, need, span));
  }
  return after;
}

/**
 * The bits of a history that can still take part in a signal: a bit at age a counts only if points to come can bring
 * the window that holds it to `need`, that is, if the set bits not older than it and one for each point until it
 * leaves reach `need`.
 */
function usefulBits(history: number, need: number, span: number): number {
  let kept = 0;
  for (let age = 0; age < span - 1; age++) {
    if (((history >>> age) & 1) === 0) continue;
    const younger = setBitCount(history & ((2 << age) - 1));
    if (younger + (span - 1 - age) >= need) kept |= 1 << age;
  }
  return kept;
}

/** Zones between all lines, with equal patterns of bits sharing one symbol. */
function symbolsOf(compiled: CompiledRunRules, limit: number) {
  if (!(limit > 0 && limit < Infinity)) {
    throw new CoreError("out-of-range", `runRuleChain: limit must be a finite number > 0; got ${limit}`, { limit });
  }
  const limits = (compiled.upperLimitBits | compiled.lowerLimitBits) === 0 ? [] : [limit];
  const lines = [...new Set([...compiled.distances, ...limits].flatMap((distance) => [distance, 0 - distance]))].sort(
    (a, b) => a - b,
  );
  const ends = [-Infinity, ...lines, Infinity];
  const symbolOfBits = new Map<number, number>();
  const zones = ends.slice(1).map((high, index) => {
    const low = ends[index]!;
    const inside = low === -Infinity ? high - 1 : high === Infinity ? low + 1 : (low + high) / 2;
    const count = compiled.distances.filter((distance) => Math.abs(inside) > distance).length;
    let bits = compiled.zoneBits[inside < 0 && count > 0 ? compiled.distances.length + count : count]!;
    if (inside > limit) bits |= compiled.upperLimitBits;
    if (inside < -limit) bits |= compiled.lowerLimitBits;
    let symbol = symbolOfBits.get(bits);
    if (symbol === undefined) symbolOfBits.set(bits, (symbol = symbolOfBits.size));
    return { low, high, symbol };
  });
  return { zones, bits: [...symbolOfBits.keys()] };
}

/** Run length of a chain: its mean, standard deviation and quantiles, all in points. */
export type ChainRunLength = Readonly<{ mean: number; standardDeviation: number; quantiles: readonly number[] }>;

/** Steps after which a chain that has not settled is given up. */
const MAX_STEPS = 200_000;
/** Relative change of the chance of a signal at which the chain has settled. */
const SETTLED = 1e-14;
/** Steps in a row for which it must stay below: longer than any pattern, so that no pattern hides a change. */
const SETTLED_STEPS = 40;

/**
 * Run length of a chain where the standardised values are normal with mean `shift` and standard deviation `ratio`.
 *
 * @param chain - result of runRuleChain
 * @param shift - mean of the values in sigma of the limits, finite
 * @param ratio - standard deviation of the values in sigma of the limits, > 0
 * @param probabilities - of the quantiles asked for, each in (0, 1)
 * @returns mean, standard deviation, quantiles (smallest run length with at least that probability)
 * @throws CoreError out-of-range, not-converged if the chance of a signal never settles
 * Method: the distribution over states is carried forward until the chance of a signal at the next point is constant;
 *   from there the run length is geometric and summed in closed form. No linear system, all terms positive.
 * Accuracy: 7 digits on tests/reference/run-rules.json (all that it prints)
 */
export function chainRunLength(
  chain: RunRuleChain,
  shift = 0,
  ratio = 1,
  probabilities: readonly number[] = [],
): ChainRunLength {
  if (!Number.isFinite(shift) || !(ratio > 0 && ratio < Infinity)) {
    throw new CoreError(
      "out-of-range",
      `chainRunLength: shift must be finite and ratio > 0; got ${shift} and ${ratio}`,
    );
  }
  const chances = new Float64Array(chain.symbols);
  for (const { low, high, symbol } of chain.zones) {
    chances[symbol] = chances[symbol]! + normalInterval((low - shift) / ratio, (high - shift) / ratio);
  }
  const { next, symbols, states } = chain;
  let now = new Float64Array(states);
  let then = new Float64Array(states);
  now[0] = 1;
  // `surviving` is the chance of no signal in the points so far; `now` is conditional on it, so nothing underflows.
  let surviving = 1;
  let mean = 0;
  let square = 0;
  let settled = 0;
  let lastHazard = -1;
  const cumulative: number[] = [];
  for (let points = 0; points < MAX_STEPS; points++) {
    mean += surviving;
    square += surviving * (2 * points + 1);
    then.fill(0);
    let hazard = 0;
    for (let state = 0; state < states; state++) {
      const mass = now[state]!;
      if (mass === 0) continue;
      for (let symbol = 0; symbol < symbols; symbol++) {
        const target = next[state * symbols + symbol]!;
        const moved = mass * chances[symbol]!;
        if (target < 0) hazard += moved;
        else then[target] = then[target]! + moved;
      }
    }
    surviving *= Math.max(0, 1 - hazard);
    if (probabilities.length > 0) cumulative.push(1 - surviving);
    const kept = 1 - hazard;
    if (!(kept > 0) || surviving < 1e-300)
      return { ...moments(mean, square), quantiles: countsFrom(cumulative, probabilities, 0, 1) };
    let total = 0;
    for (let state = 0; state < states; state++) total += then[state]!;
    for (let state = 0; state < states; state++) then[state] = then[state]! / total;
    [now, then] = [then, now];
    settled = hazard > 0 && Math.abs(hazard - lastHazard) <= SETTLED * hazard ? settled + 1 : 0;
    lastHazard = hazard;
    if (settled >= SETTLED_STEPS) {
      const rest = surviving / hazard;
      const seen = points + 1;
      // sum over t >= seen of S_t and of (2t + 1) S_t with S_t = surviving (1 - hazard)^(t - seen)
      mean += rest;
      square += (2 * seen + 1) * rest + (2 * rest * (1 - hazard)) / hazard;
      return { ...moments(mean, square), quantiles: countsFrom(cumulative, probabilities, surviving, hazard) };
    }
  }
  throw new CoreError(
    "not-converged",
    `chainRunLength: the chance of a signal has not settled after ${MAX_STEPS} points`,
  );
}

function moments(mean: number, square: number) {
  return { mean, standardDeviation: Math.sqrt(Math.max(0, square - mean * mean)) };
}

function countsFrom(
  cumulative: readonly number[],
  probabilities: readonly number[],
  surviving: number,
  hazard: number,
): number[] {
  return probabilities.map((probability) => {
    if (!(probability > 0 && probability < 1)) {
      throw new CoreError(
        "out-of-range",
        `chainRunLength: probabilities must be above 0 and below 1; got ${probability}`,
      );
    }
    const reached = cumulative.findIndex((chance) => chance >= probability);
    if (reached >= 0) return reached + 1;
    return cumulative.length + Math.max(1, Math.ceil(Math.log((1 - probability) / surviving) / Math.log1p(-hazard)));
  });
}
