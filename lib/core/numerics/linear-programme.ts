import { CoreError, type Estimate } from "../errors";

/** Minimise objective . x subject to rows x <= limits and |x_k| <= bound_k. Few unknowns, many rows. */
export type LinearProgramme = {
  readonly objective: readonly number[];
  /** Row-major, `count` rows of as many numbers as the objective has. */
  readonly rows: Float64Array;
  readonly limits: Float64Array;
  readonly count: number;
  readonly bounds: readonly number[];
  /** Violation of a row that counts as none, in the unit of the limits. */
  readonly tolerance: number;
  /** Basis of an earlier solution to start from; taken only if it is still best for the objective. */
  readonly startBasis?: readonly number[];
};

export type LinearProgrammeSolution = {
  readonly x: readonly number[];
  /** Rows that hold the solution with their multipliers (>= 0); a bound that holds it is not among them. */
  readonly active: readonly { readonly row: number; readonly multiplier: number }[];
  /** True where a bound on an unknown holds the solution. */
  readonly atBound: boolean;
  /** The n constraints whose corner the solution is: row numbers, or -1 - 2k for x_k <= bound, -2 - 2k for -x_k <= bound. */
  readonly basis: readonly number[];
};

const MAX_PIVOTS = 2000;
/** Pivots after which the inverse is made anew. */
const MAX_UPDATES = 24;
/** Pivots without a better value after which the first violated row is taken instead of the worst, so that none can cycle. */
const PATIENCE = 40;
/** Smallest pivot as part of the largest of its column. */
const PIVOT_TOLERANCE = 1e-9;
/** Multiplier from which on a bound is said to hold the solution. */
const BOUND_MULTIPLIER = 1e-9;
/** A multiplier of a start basis that is below zero by so little is zero. */
const ROUNDING = 1e-13;

const MOST_UNKNOWNS = 8;
/** Room of one solution, taken again by the next: thousands are solved for one screen, and none is begun within another. */
const ROOM = {
  inverse: new Float64Array(MOST_UNKNOWNS * MOST_UNKNOWNS),
  x: new Float64Array(MOST_UNKNOWNS),
  multipliers: new Float64Array(MOST_UNKNOWNS),
  mu: new Float64Array(MOST_UNKNOWNS),
  work: new Float64Array(2 * MOST_UNKNOWNS * MOST_UNKNOWNS),
  inBasis: new Uint8Array(0),
};

/** Marks of so many constraints, none set. */
function roomForBasis(count: number): Uint8Array {
  if (ROOM.inBasis.length < count) ROOM.inBasis = new Uint8Array(2 * count);
  else ROOM.inBasis.fill(0, 0, count);
  return ROOM.inBasis;
}

/**
 * Solution of a small dense linear programme.
 *
 * @param programme - n <= 8 unknowns, any number of rows, all finite, bounds > 0
 * @returns x, the rows that hold it, or no answer: "infeasible", "not-converged"
 * @throws CoreError invalid-argument, not-finite
 * Method: dual simplex from the corner of the bounds that is best for the objective; the inverse of the basis is updated
 * by each pivot and made anew before the answer is given, so that no rounding stays in it; worst violation first, first violation when stalled
 * Accuracy: rows hold to `tolerance`; against published optima and enumeration of all bases (tests/core/numerics)
 * Source: C. E. Lemke 1954, The dual method of solving the linear programming problem (from memory)
 */
export function solveLinearProgramme(programme: LinearProgramme): Estimate<LinearProgrammeSolution> {
  const { objective, rows, limits, count, bounds, tolerance } = programme;
  const n = objective.length;
  if (n < 1 || n > MOST_UNKNOWNS || bounds.length !== n || rows.length < count * n || limits.length < count)
    throw new CoreError(
      "invalid-argument",
      `solveLinearProgramme: objective must have 1 to 8 values and rows, limits, bounds must match it; got ${n}`,
    );
  if (!objective.every(Number.isFinite) || !bounds.every((b) => Number.isFinite(b) && b > 0))
    throw new CoreError("not-finite", "solveLinearProgramme: objective must be finite and bounds finite and > 0");

  const { inverse, x, multipliers, mu, work } = ROOM;
  const inBasis = roomForBasis(count + 2 * n);
  const corner = objective.map((c, k) => -1 - 2 * k - (c > 0 ? 1 : 0));
  const warm = programme.startBasis ?? corner;
  const basis = isBestFor(programme, warm, work, inverse) ? [...warm] : corner;
  if (basis === corner && !invertBasis(programme, basis, work, inverse)) return { ok: false, reason: "not-converged" };
  // Pivots since the basis was inverted anew: each adds its rounding to the inverse.
  let updates = 0;
  for (const id of basis) inBasis[slot(id, count)] = 1;
  let bestValue = -Infinity;
  let stalled = 0;

  for (let pivot = 0; pivot < MAX_PIVOTS; pivot++) {
    if (updates >= MAX_UPDATES) {
      if (!invertBasis(programme, basis, work, inverse)) return { ok: false, reason: "not-converged" };
      updates = 0;
    }
    let value = 0;
    for (let k = 0; k < n; k++) {
      let sum = 0;
      let lambda = 0;
      for (let r = 0; r < n; r++) {
        const id = basis[r]!;
        sum += inverse[k * n + r]! * (id >= 0 ? limits[id]! : bounds[(-1 - id) >> 1]!);
        lambda -= inverse[r * n + k]! * objective[r]!;
      }
      x[k] = sum;
      multipliers[k] = lambda;
      value += objective[k]! * sum;
    }
    if (value > bestValue + tolerance) {
      bestValue = value;
      stalled = 0;
    } else stalled++;

    const entering = findViolated(programme, x, inBasis, stalled > PATIENCE);
    if (entering === NONE && updates > 0) {
      updates = MAX_UPDATES;
      continue;
    }
    if (entering === NONE) return solutionOf(x, basis, multipliers);

    let largest = 0;
    for (let r = 0; r < n; r++) {
      let sum = 0;
      if (entering >= 0) for (let k = 0; k < n; k++) sum += rows[entering * n + k]! * inverse[k * n + r]!;
      else sum = boundSign(entering) * inverse[((-1 - entering) >> 1) * n + r]!;
      mu[r] = sum;
      if (Math.abs(sum) > largest) largest = Math.abs(sum);
    }
    let leaving = -1;
    let ratio = Infinity;
    for (let r = 0; r < n; r++) {
      if (mu[r]! <= PIVOT_TOLERANCE * largest) continue;
      const next = Math.max(0, multipliers[r]!) / mu[r]!;
      const tie = Math.abs(next - ratio) <= 1e-14 * (1 + Math.abs(ratio));
      const wins = stalled > PATIENCE ? basis[r]! < basis[leaving]! : mu[r]! > mu[leaving]!;
      if (leaving < 0 || (tie ? wins : next < ratio)) [leaving, ratio] = [r, next];
    }
    if (leaving < 0) return { ok: false, reason: "infeasible" };
    inBasis[slot(basis[leaving]!, count)] = 0;
    basis[leaving] = entering;
    inBasis[slot(entering, count)] = 1;
    replaceRow(inverse, mu, leaving, n);
    updates++;
  }
  return { ok: false, reason: "not-converged" };
}

/** No constraint is violated. */
const NONE = -1_000_000;

/** +1 for x_k <= bound, -1 for -x_k <= bound. */
function boundSign(id: number): 1 | -1 {
  return ((-1 - id) & 1) === 0 ? 1 : -1;
}

/** Place of a constraint in a list that has the rows first and the bounds behind them. */
function slot(id: number, count: number): number {
  return id >= 0 ? id : count - 1 - id;
}

/** Whether no multiplier of a basis is negative: the corner is best for the objective, though rows may be violated. */
function isBestFor(
  programme: LinearProgramme,
  basis: readonly number[],
  work: Float64Array,
  inverse: Float64Array,
): boolean {
  const { objective, count } = programme;
  const n = objective.length;
  if (basis.length !== n || basis.some((id) => id >= count)) return false;
  if (!invertBasis(programme, basis, work, inverse)) return false;
  for (let k = 0; k < n; k++) {
    let lambda = 0;
    for (let r = 0; r < n; r++) lambda -= inverse[r * n + k]! * objective[r]!;
    if (!(lambda >= -ROUNDING)) return false;
  }
  return true;
}

function solutionOf(
  x: Float64Array,
  basis: readonly number[],
  multipliers: Float64Array,
): Estimate<LinearProgrammeSolution> {
  const active: { row: number; multiplier: number }[] = [];
  const solution: number[] = [];
  let atBound = false;
  for (let r = 0; r < basis.length; r++) {
    const id = basis[r]!;
    const multiplier = Math.max(0, multipliers[r]!);
    solution.push(x[r]!);
    if (id >= 0) active.push({ row: id, multiplier });
    else if (multiplier > BOUND_MULTIPLIER) atBound = true;
  }
  return { ok: true, value: { x: solution, active, atBound, basis }, warnings: [] };
}

/** The most violated constraint, or the first one; NONE where none is. */
function findViolated(programme: LinearProgramme, x: Float64Array, inBasis: Uint8Array, first: boolean): number {
  const { objective, rows, limits, count, bounds, tolerance } = programme;
  const n = objective.length;
  let worst = tolerance;
  let found = NONE;
  for (let row = 0, at = 0; row < count; row++, at += n) {
    let excess = -limits[row]!;
    for (let k = 0; k < n; k++) excess += rows[at + k]! * x[k]!;
    if (excess > worst && inBasis[row] === 0) {
      if (first) return row;
      worst = excess;
      found = row;
    }
  }
  for (let k = 0; k < n; k++)
    for (let side = 0; side < 2; side++) {
      const id = -1 - 2 * k - side;
      const excess = (side === 0 ? x[k]! : -x[k]!) - bounds[k]!;
      if (excess > Math.max(worst, 1e-12 * bounds[k]!) && inBasis[slot(id, count)] === 0) {
        if (first) return id;
        worst = excess;
        found = id;
      }
    }
  return found;
}

/** Inverse after row `leaving` of the basis was replaced by a row that is mu times the basis. */
function replaceRow(inverse: Float64Array, mu: Float64Array, leaving: number, n: number): void {
  const pivot = mu[leaving]!;
  for (let k = 0, at = 0; k < n; k++, at += n) {
    const column = inverse[at + leaving]! / pivot;
    for (let r = 0; r < n; r++) inverse[at + r] = inverse[at + r]! - mu[r]! * column;
    inverse[at + leaving] = column;
  }
}

/** Inverse of the matrix whose rows are the basis constraints, by Gauss-Jordan with pivoting; false where it is singular. */
function invertBasis(
  { rows }: LinearProgramme,
  basis: readonly number[],
  work: Float64Array,
  inverse: Float64Array,
): boolean {
  const n = basis.length;
  const width = 2 * n;
  work.fill(0, 0, width * n);
  for (let r = 0; r < n; r++) {
    const id = basis[r]!;
    if (id >= 0) for (let k = 0; k < n; k++) work[r * width + k] = rows[id * n + k]!;
    else work[r * width + ((-1 - id) >> 1)] = boundSign(id);
    work[r * width + n + r] = 1;
  }
  for (let c = 0; c < n; c++) {
    let p = c;
    for (let r = c + 1; r < n; r++) if (Math.abs(work[r * width + c]!) > Math.abs(work[p * width + c]!)) p = r;
    const head = work[p * width + c]!;
    if (!(Math.abs(head) > 1e-13)) return false;
    for (let k = c; k < width; k++) {
      const held = work[c * width + k]!;
      work[c * width + k] = work[p * width + k]! / head;
      if (p !== c) work[p * width + k] = held;
    }
    for (let r = 0; r < n; r++) {
      if (r === c) continue;
      const factor = work[r * width + c]!;
      if (factor !== 0)
        for (let k = c; k < width; k++) work[r * width + k] = work[r * width + k]! - factor * work[c * width + k]!;
    }
  }
  for (let r = 0; r < n; r++) for (let k = 0; k < n; k++) inverse[r * n + k] = work[r * width + n + k]!;
  return true;
}
