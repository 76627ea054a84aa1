import { CoreError } from "../../errors";
import { brentRoot } from "../../numerics/brent-root";
import { cusumRunLength, type CusumDesign } from "./cusum-run-length";
import { ewmaRunLength, type EwmaDesign } from "./ewma-run-length";
import { rulesRunLength } from "./rules-run-length";
import { LIMIT_TEST_ONLY } from "../rules/run-rules";

/** A chart with the run lengths it has. */
export type ChartProposal<T> = Readonly<{
  design: T;
  /** Mean run length without a shift, as asked. */
  inControl: number;
  /** Mean run length at the shift that matters. */
  atShift: number;
}>;

export type ChartProposals = Readonly<{
  /** Individuals with one limit: its distance in sigma. */
  limits: ChartProposal<{ sigmas: number }>;
  ewma: ChartProposal<EwmaDesign>;
  cusum: ChartProposal<CusumDesign>;
}>;

const SMALLEST_RUN_LENGTH = 10;
const LARGEST_RUN_LENGTH = 1e6;
/** Golden-section steps over the weight: the optimum is flat, three digits are more than enough. */
const WEIGHT_STEPS = 24;

/**
 * Charts that have the in-control run length asked for and find the shift that matters soonest: individuals with limits
 * only, EWMA and CUSUM, all two-sided.
 *
 * @param inControl - mean run length without a shift, 10 to 1,000,000
 * @param shift - shift that matters in sigma of a value, 0.1 to 6
 * @returns designs with both run lengths
 * @throws CoreError out-of-range
 * Method: CUSUM with k = shift / 2 and h solved for; EWMA with the weight that gives the smallest run length at the
 *   shift (golden section), its width solved for at each weight.
 * Accuracy: h to the digits of Hawkins' table, tests/reference/ewma-cusum-run-length.json
 * Source: Hawkins and Olwell 1998, Cumulative Sum Charts, chapter 3; Crowder 1989, Journal of Quality Technology 21(3)
 * @example designChart(370, 1).cusum.design.h // 4.774
 */
export function designChart(inControl: number, shift: number): ChartProposals {
  const sigmas = limitFor(inControl);
  if (!(shift >= 0.1 && shift <= 6)) {
    throw new CoreError("out-of-range", `designChart: shift must be from 0.1 to 6; got ${shift}`, { shift });
  }
  const cusum = { k: shift / 2, h: cusumIntervalFor(shift / 2, inControl) };
  const ewma = bestEwma(inControl, shift);
  const atShift = rulesRunLength(LIMIT_TEST_ONLY, { shift, limit: sigmas }).mean;
  return {
    limits: { design: { sigmas }, inControl, atShift },
    ewma: { design: ewma, inControl, atShift: ewmaRunLength(ewma, shift) },
    cusum: { design: cusum, inControl, atShift: cusumRunLength(cusum, shift) },
  };
}

/**
 * Decision interval h of a tabular CUSUM with reference value k that has a given in-control run length.
 *
 * @param k - reference value in sigma, 0.05 to 3
 * @param inControl - mean run length without a shift, 10 to 1,000,000
 * @param sides - both (default) or one
 * @returns h in sigma
 * @throws CoreError out-of-range; not-converged if no h from 0.01 to 60 has that run length
 * @example cusumIntervalFor(0.5, 370) // 4.7738
 */
export function cusumIntervalFor(k: number, inControl: number, sides: "both" | "one" = "both"): number {
  assertRunLength("cusumIntervalFor", inControl);
  if (!(k >= 0.05 && k <= 3)) {
    throw new CoreError("out-of-range", `cusumIntervalFor: k must be from 0.05 to 3; got ${k}`, { k });
  }
  const oneSided = sides === "both" ? 2 * inControl : inControl;
  // Two sides without a shift are alike, so that the run length of one is twice that of both.
  const excess = (h: number) => Math.log((2 * cusumRunLength({ k, h })) / oneSided);
  return solved("cusumIntervalFor", excess, 0.01, 1, 60);
}

/**
 * Width of the (asymptotic, two-sided) limits of an EWMA with a given weight and in-control run length.
 *
 * @param lambda - weight, 0.01 to 1
 * @param inControl - mean run length without a shift, 10 to 1,000,000
 * @returns width in standard deviations of the average
 * @throws CoreError out-of-range
 * @example ewmaWidthFor(0.2, 500) // 2.962
 */
export function ewmaWidthFor(lambda: number, inControl: number): number {
  assertRunLength("ewmaWidthFor", inControl);
  if (!(lambda >= 0.01 && lambda <= 1)) {
    throw new CoreError("out-of-range", `ewmaWidthFor: lambda must be from 0.01 to 1; got ${lambda}`, { lambda });
  }
  return solved("ewmaWidthFor", (width) => Math.log(ewmaRunLength({ lambda, width }) / inControl), 0.05, 1, 8);
}

/** Distance of two-sided limits, in sigma, that has a given in-control run length by itself. */
function limitFor(inControl: number): number {
  assertRunLength("designChart", inControl);
  const excess = (limit: number) => Math.log(rulesRunLength(LIMIT_TEST_ONLY, { limit }).mean / inControl);
  return solved("designChart", excess, 0.05, 1, 8);
}

function bestEwma(inControl: number, shift: number): EwmaDesign {
  const ratio = (Math.sqrt(5) - 1) / 2;
  const designOf = (logWeight: number): EwmaDesign => {
    const lambda = Math.exp(logWeight);
    return { lambda, width: ewmaWidthFor(lambda, inControl) };
  };
  const lengthAt = (logWeight: number) => ewmaRunLength(designOf(logWeight), shift);
  let low = Math.log(0.01);
  let high = 0;
  let left = high - ratio * (high - low);
  let right = low + ratio * (high - low);
  let [leftLength, rightLength] = [lengthAt(left), lengthAt(right)];
  for (let step = 0; step < WEIGHT_STEPS; step++) {
    if (leftLength <= rightLength) {
      [high, right, rightLength] = [right, left, leftLength];
      left = high - ratio * (high - low);
      leftLength = lengthAt(left);
    } else {
      [low, left, leftLength] = [left, right, rightLength];
      right = low + ratio * (high - low);
      rightLength = lengthAt(right);
    }
  }
  return designOf((low + high) / 2);
}

/** Root of an increasing function: the upper end is doubled until it brackets. */
function solved(name: string, f: (x: number) => number, low: number, first: number, last: number): number {
  let high = first;
  while (f(high) < 0 && high < last) high = Math.min(last, high * 1.5);
  if (f(low) > 0 || f(high) < 0) {
    throw new CoreError("not-converged", `${name}: no parameter from ${low} to ${last} has the run length asked for`);
  }
  return brentRoot(f, low, high, 1e-9);
}

function assertRunLength(name: string, inControl: number): void {
  if (!(inControl >= SMALLEST_RUN_LENGTH && inControl <= LARGEST_RUN_LENGTH)) {
    throw new CoreError(
      "out-of-range",
      `${name}: inControl must be from ${SMALLEST_RUN_LENGTH} to ${LARGEST_RUN_LENGTH}; got ${inControl}`,
      { inControl },
    );
  }
}
