import { CoreError } from "../../errors";
import { gaussLegendreRule } from "../../numerics/gauss-legendre";
import { compileRunRules } from "../rules/compile-run-rules";
import type { RunRule } from "../rules/run-rules";

/** Nodes at which the density of the newest value is held; the densities are polynomials of fast falling degree. */
const NODES = 24;
const MAX_STEPS = 100_000;
const SETTLED = 1e-13;
/** Chance of going on below which all runs have ended: rules of two points. */
const GONE = 1e-12;
const SETTLED_STEPS = 40;

/**
 * Mean run length of rules that look at directions only (monotone, alternating), for any continuous distribution.
 * It does not depend on a shift.
 *
 * @param rules - monotone and alternating rules only, at least 1
 * @returns mean number of points to the first signal
 * @throws CoreError invalid-argument if another rule is among them, not-converged
 * Method: values are uniform after a monotone transformation; a state is the length of the current rise, fall or
 *   alternation with the density of the newest value on Gauss-Legendre nodes, carried forward until the chance of a
 *   signal is constant, then summed in closed form.
 * Accuracy: 10 digits on tests/reference/run-rules.json
 * Source: ranks as in David and Barton 1962, Combinatorial Chance, chapter 10
 * @example directionRunLength([{ id: "t", test: "monotone", length: 6 }]) // 421.5986
 */
export function directionRunLength(rules: readonly RunRule[]): number {
  compileRunRules(rules);
  if (rules.length === 0 || rules.some(({ test }) => test !== "monotone" && test !== "alternating")) {
    throw new CoreError("invalid-argument", "directionRunLength: rules must be monotone and alternating ones only");
  }
  const longest = (test: "monotone" | "alternating") =>
    Math.min(...rules.flatMap((rule) => (rule.test === test ? [rule.length] : [])), Infinity);
  // Points in the current monotone run and in the current alternation, as the shortest rule of each kind counts them.
  const [monotone, alternating] = [longest("monotone"), longest("alternating")];
  type State = { direction: -1 | 0 | 1; run: number; turns: number };
  const states: State[] = [{ direction: 0, run: 1, turns: 1 }];
  const indexOf = (state: State) => {
    const found = states.findIndex(
      ({ direction, run, turns }) => direction === state.direction && run === state.run && turns === state.turns,
    );
    return found >= 0 ? found : states.push(state) - 1;
  };
  const targets: [number, number][] = [];
  for (let s = 0; s < states.length; s++) {
    const now = states[s]!;
    const after = (direction: -1 | 1) => {
      const same = now.direction === direction;
      const run = monotone === Infinity ? 0 : same || now.direction === 0 ? now.run + 1 : 2;
      const turns = alternating === Infinity ? 0 : same ? 2 : now.turns + 1;
      return run >= monotone || turns >= alternating ? -1 : indexOf({ direction, run, turns });
    };
    targets.push([after(1), after(-1)]);
  }
  return settle(targets);
}

/** Carries the densities of all states forward; targets are the states after a rise and after a fall, -1 a signal. */
function settle(targets: readonly (readonly [number, number])[]): number {
  const { nodes, weights } = gaussLegendreRule(NODES);
  const below = integralsBelow(nodes, weights);
  let density = targets.map((_, state) => new Float64Array(NODES).fill(state === 0 ? 0.5 : 0));
  // The first point cannot signal: the run length is at least 2.
  let surviving = 1;
  let mean = 2;
  let last = -1;
  let settled = 0;
  for (let step = 0; step < MAX_STEPS; step++) {
    const next = targets.map(() => new Float64Array(NODES));
    targets.forEach(([rise, fall], state) => {
      const from = density[state]!;
      let total = 0;
      for (let j = 0; j < NODES; j++) total += weights[j]! * from[j]!;
      for (let i = 0; i < NODES; i++) {
        let smaller = 0;
        for (let j = 0; j < NODES; j++) smaller += below[i * NODES + j]! * from[j]!;
        // The next value has density 1/2 on [-1, 1]: a rise comes from smaller values, a fall from larger ones.
        if (rise >= 0) next[rise]![i] = next[rise]![i]! + smaller / 2;
        if (fall >= 0) next[fall]![i] = next[fall]![i]! + (total - smaller) / 2;
      }
    });
    let kept = 0;
    for (const column of next) for (let i = 0; i < NODES; i++) kept += weights[i]! * column[i]!;
    if (!(kept > GONE)) return mean;
    const hazard = 1 - kept;
    surviving *= kept;
    density = next.map((column) => column.map((value) => value / kept));
    settled = hazard > 0 && Math.abs(hazard - last) <= SETTLED ? settled + 1 : 0;
    last = hazard;
    if (settled >= SETTLED_STEPS) return mean + surviving / hazard;
    mean += surviving;
  }
  throw new CoreError(
    "not-converged",
    `directionRunLength: the chance of a signal has not settled after ${MAX_STEPS} points`,
  );
}

/** Matrix of the integral from -1 to node i of the polynomial through values at all nodes. */
function integralsBelow(nodes: Float64Array, weights: Float64Array): Float64Array {
  const legendre = (x: number) => {
    const p = [1, x];
    for (let k = 2; k <= NODES; k++) p.push(((2 * k - 1) * x * p[k - 1]! - (k - 1) * p[k - 2]!) / k);
    return p;
  };
  const values = Array.from(nodes, legendre);
  const matrix = new Float64Array(NODES * NODES);
  for (let i = 0; i < NODES; i++) {
    for (let j = 0; j < NODES; j++) {
      let sum = 0.5 * (nodes[i]! + 1);
      for (let k = 1; k < NODES; k++) sum += 0.5 * values[j]![k]! * (values[i]![k + 1]! - values[i]![k - 1]!);
      matrix[i * NODES + j] = weights[j]! * sum;
    }
  }
  return matrix;
}
