import { CoreError } from "../errors";

/**
 * Mean number of steps that a Markov chain takes to leave, from each of its states.
 * Formula: t_i = 1 + sum_j q_ij t_j with 1 - sum_j q_ij = exit_i.
 *
 * @param transitions - Float64Array[n * n], row-major, q_ij >= 0; the diagonal is not read (it is what the others leave of
 *   1); used up
 * @param exits - Float64Array[n], chance to leave at the next step, >= 0, each with its own digits; used up
 * @returns Float64Array[n], steps >= 1
 * @throws CoreError length-mismatch; not-converged where the chain practically never leaves
 * Method: states are eliminated one by one; the chance to stay is never subtracted from 1, so that every sum has positive
 *   terms only and the times keep their digits however long they are.
 * Source: Grassmann, Taksar and Heyman 1985, Operations Research 33(5) 1107-1116
 */
export function absorptionTimes(transitions: Float64Array, exits: Float64Array): Float64Array {
  const n = exits.length;
  if (transitions.length !== n * n) {
    throw new CoreError(
      "length-mismatch",
      `absorptionTimes: transitions must have ${n * n} entries; got ${transitions.length}`,
    );
  }
  const steps = new Float64Array(n).fill(1);
  const leaving = new Float64Array(n);
  for (let last = n - 1; last >= 0; last--) {
    const from = last * n;
    let sum = exits[last]!;
    for (let col = 0; col < last; col++) sum += transitions[from + col]!;
    if (!(sum > 0))
      throw new CoreError("not-converged", "absorptionTimes: exits must lead out; the run practically never ends");
    leaving[last] = sum;
    for (let row = 0; row < last; row++) {
      const share = transitions[row * n + last]! / sum;
      if (share === 0) continue;
      const to = row * n;
      for (let col = 0; col < last; col++) transitions[to + col]! += share * transitions[from + col]!;
      exits[row]! += share * exits[last]!;
      steps[row]! += share * steps[last]!;
    }
  }
  const times = new Float64Array(n);
  for (let row = 0; row < n; row++) {
    let sum = steps[row]!;
    for (let col = 0; col < row; col++) sum += transitions[row * n + col]! * times[col]!;
    times[row] = sum / leaving[row]!;
  }
  if (!times.every(Number.isFinite)) {
    throw new CoreError("not-converged", "absorptionTimes: exits must lead out; the run practically never ends");
  }
  return times;
}
