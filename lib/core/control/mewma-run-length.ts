import { CoreError } from "../errors";
import { normalDensity } from "../distributions/normal";
import { brentRoot } from "../numerics/brent-root";
import { gaussLegendreRule } from "../numerics/gauss-legendre";
import { logGamma } from "../numerics/log-gamma";
import { solveLinear } from "../numerics/solve-linear";

export type MewmaDesign = Readonly<{
  /** Components p, integer from 2 to 10. */
  dimensions: number;
  /** Weight of the newest vector, 0.02 to 1. */
  lambda: number;
  /** Upper limit of the statistic with the asymptotic covariance of the average, > 0. */
  limit: number;
}>;

/** Nodes without a shift, where only the length of the average matters. */
const RADIAL_NODES = 64;
/** Nodes by distance and by angle to the shift. */
const DISTANCE_NODES = 24;
const ANGLE_NODES = 28;

/**
 * Mean run length of a multivariate EWMA chart on independent normal vectors, from an average of zero on.
 * Formula: L(z) = 1 + integral over |y| <= h of L(y) f((y - (1 - lambda) z) / lambda - shift) / lambda^p dy,
 * h^2 = limit lambda / (2 - lambda); by symmetry L depends on |z| without a shift, on |z| and the angle to it with one.
 *
 * @param design - see MewmaDesign
 * @param shift - length of the mean's shift in standard deviations (root of mu' S^-1 mu), >= 0
 * @returns mean number of points to the signal, >= 1
 * @throws CoreError out-of-range
 * Method: Nystrom solution, 64 Gauss-Legendre nodes of the length, or 24 x 28 of length and angle; the density of a length
 *   is the noncentral chi one, summed as a series of positive terms.
 * Accuracy: all printed digits of the published tables in tests/reference/mewma-run-length.json
 * Source: Rigdon 1995, Journal of Statistical Computation and Simulation 52 351-365; Rigdon 1995, Statistics and
 *   Probability Letters 24 365-373; Prabhu and Runger 1997, Journal of Quality Technology 29(1) 8-15
 * @example mewmaRunLength({ dimensions: 2, lambda: 0.1, limit: 8.64 }) // 200
 */
export function mewmaRunLength(design: MewmaDesign, shift = 0): number {
  const { dimensions, lambda, limit } = design;
  assertWeight("mewmaRunLength", dimensions, lambda);
  if (!(limit > 0 && limit <= 200)) {
    throw new CoreError("out-of-range", `mewmaRunLength: limit must be above 0 and at most 200; got ${limit}`);
  }
  if (!(shift >= 0 && shift <= 20)) {
    throw new CoreError("out-of-range", `mewmaRunLength: shift must be from 0 to 20; got ${shift}`, { shift });
  }
  return shift === 0 ? inControl(design) : shifted(design, shift);
}

/**
 * Limit of a multivariate EWMA chart with a given weight and run length without a shift.
 *
 * @param dimensions - p, integer from 2 to 10
 * @param lambda - weight, 0.02 to 1
 * @param runLength - mean run length without a shift, 10 to 100,000
 * @returns limit of the statistic
 * @throws CoreError out-of-range
 * @example mewmaLimitFor(2, 0.1, 200) // 8.63
 */
export function mewmaLimitFor(dimensions: number, lambda: number, runLength: number): number {
  assertWeight("mewmaLimitFor", dimensions, lambda);
  if (!(runLength >= 10 && runLength <= 1e5)) {
    throw new CoreError("out-of-range", `mewmaLimitFor: runLength must be from 10 to 100,000; got ${runLength}`);
  }
  const excess = (limit: number) => Math.log(inControl({ dimensions, lambda, limit }) / runLength);
  let high = dimensions + 4;
  while (excess(high) < 0 && high < 150) high *= 1.4;
  return brentRoot(excess, 0.05, high, 1e-10);
}

function assertWeight(name: string, dimensions: number, lambda: number): void {
  if (!Number.isInteger(dimensions) || dimensions < 2 || dimensions > 10) {
    throw new CoreError("out-of-range", `${name}: dimensions must be an integer from 2 to 10; got ${dimensions}`);
  }
  if (!(lambda >= 0.02 && lambda <= 1)) {
    throw new CoreError("out-of-range", `${name}: lambda must be from 0.02 to 1; got ${lambda}`, { lambda });
  }
}

function inControl({ dimensions, lambda, limit }: MewmaDesign): number {
  const reach = Math.sqrt((limit * lambda) / (2 - lambda));
  const { nodes, weights } = gaussLegendreRule(RADIAL_NODES);
  const at = nodes.map((node) => (reach / 2) * (node + 1));
  const density = lengthDensity(dimensions);
  const kernel = (from: number, to: number) => density(to / lambda, ((1 - lambda) * from) / lambda) / lambda;
  const weight = weights.map((each) => (each * reach) / 2);
  return solveFrom(at.length, (row, col) => weight[col]! * kernel(row < 0 ? 0 : at[row]!, at[col]!));
}

function shifted({ dimensions, lambda, limit }: MewmaDesign, shift: number): number {
  const reach = Math.sqrt((limit * lambda) / (2 - lambda));
  const lengths = gaussLegendreRule(DISTANCE_NODES);
  const angles = gaussLegendreRule(ANGLE_NODES);
  const along: number[] = [];
  const across: number[] = [];
  const weight: number[] = [];
  lengths.nodes.forEach((u, i) => {
    const length = (reach / 2) * (u + 1);
    angles.nodes.forEach((v, j) => {
      const angle = (Math.PI / 2) * (v + 1);
      along.push(length * Math.cos(angle));
      across.push(length * Math.sin(angle));
      weight.push(((lengths.weights[i]! * reach) / 2) * ((angles.weights[j]! * Math.PI) / 2) * length);
    });
  });
  const density = lengthDensity(dimensions - 1);
  const keep = (1 - lambda) / lambda;
  const kernel = (row: number, col: number) => {
    const [fromAlong, fromAcross] = row < 0 ? [0, 0] : [along[row]!, across[row]!];
    return (
      (weight[col]! *
        normalDensity(along[col]! / lambda - keep * fromAlong - shift) *
        density(across[col]! / lambda, keep * fromAcross)) /
      (lambda * lambda)
    );
  };
  return solveFrom(along.length, kernel);
}

/** 1 + sum of the kernel from the start (row -1) times L, where L = 1 + kernel L on the nodes. */
function solveFrom(size: number, kernel: (row: number, col: number) => number): number {
  const matrix = new Float64Array(size * size);
  for (let row = 0; row < size; row++) {
    for (let col = 0; col < size; col++) matrix[row * size + col] = (row === col ? 1 : 0) - kernel(row, col);
  }
  const lengths = solveLinear(matrix, new Float64Array(size).fill(1));
  let sum = 1;
  for (let col = 0; col < size; col++) sum += kernel(-1, col) * lengths[col]!;
  return sum;
}

/**
 * Density of the length of a normal vector of p components, unit covariance, whose mean has length a (noncentral chi):
 * r^(p - 1) 2^(1 - p / 2) exp(-(r^2 + a^2) / 2) sum_k (r a / 2)^(2 k) / (k! Gamma(k + p / 2)).
 */
function lengthDensity(p: number): (r: number, a: number) => number {
  const first = Math.exp((1 - p / 2) * Math.LN2 - logGamma(p / 2));
  return (r, a) => {
    const quarter = (r * a * r * a) / 4;
    let term = 1;
    let sum = 1;
    let scale = 0;
    for (let k = 1; ; k++) {
      term *= quarter / (k * (k - 1 + p / 2));
      sum += term;
      if (sum > 1e250) {
        sum *= 1e-250;
        term *= 1e-250;
        scale += 250 * Math.LN10;
      }
      if (term < 1e-17 * sum) break;
    }
    return first * r ** (p - 1) * sum * Math.exp(scale - (r * r + a * a) / 2);
  };
}
