import { changePoint } from "../../core/control/causes/change-point";
import { normalQuantile } from "../../core/distributions/normal";
import { valueGrid } from "../../core/distributions/rounded-sample";
import { isConstant, sampleSd } from "../../core/numerics/descriptive-statistics";

/** Why a stretch makes no baseline. */
export type BaselineRefusal = "too-few-frames" | "all-equal" | "not-resolved";

/** Frames below which no baseline is made, and below which it is provisional. */
export const FEWEST_BASELINE_FRAMES = 25;
/** Below this many steps of the gauge in one standard deviation, scores of rounded values alarm far too often. */
export const LEAST_RESOLUTION = 0.5;
/** A value so far from the middle of the others is listed, 1.5 times the distance of the quartiles beyond them twice over. */
const OUTLIER_REACH = 3;

/** Why values make no baseline; null where they do. */
export function baselineRefusal(values: readonly number[], fewest = FEWEST_BASELINE_FRAMES): BaselineRefusal | null {
  if (values.length < fewest) return "too-few-frames";
  if (isConstant(values)) return "all-equal";
  const step = valueGrid(values)?.step ?? null;
  return step !== null && sampleSd(values) < LEAST_RESOLUTION * step ? "not-resolved" : null;
}

/**
 * Places of values far from the others: they are listed, and stay in the baseline until a person assigns a cause.
 * Method: beyond the quartiles by three times their distance.
 * Source: Tukey 1977, Exploratory Data Analysis (outer fences)
 */
export function outlyingPlaces(values: readonly number[]): number[] {
  const sorted = [...values].sort((a, b) => a - b);
  const at = (part: number) => sorted[Math.min(sorted.length - 1, Math.floor(part * sorted.length))] ?? 0;
  const [low, high] = [at(0.25), at(0.75)];
  const reach = OUTLIER_REACH * (high - low);
  return values.flatMap((value, place) => (value < low - reach || value > high + reach ? [place] : []));
}

/** Where values changed once: first value after the change. */
export type WholeChange = Readonly<{ first: number; kind: "step" | "drift" }>;

/** Values that are looked at: a longer series is watched by its sums. */
const WHOLE_MOST = 5000;
const SHORTEST_SEGMENT = 5;

/**
 * One test of a whole series for one change of its level, by ranks, so that neither its distribution nor single far values matter.
 *
 * @param values - in the order of measuring, finite
 * @param alpha - chance that an unchanged series is called changed
 */
export function changeOfWhole(values: readonly number[], alpha: number): WholeChange | null {
  const looked = values.slice(0, WHOLE_MOST);
  if (looked.length < 2 * SHORTEST_SEGMENT || isConstant(looked)) return null;
  const found = changePoint(normalScores(looked), { minimumSegment: SHORTEST_SEGMENT });
  if (!found.ok || !(found.value.pValue < alpha)) return null;
  return { first: found.value.lastBefore + 1, kind: found.value.kind };
}

/** Normal scores of the ranks of a sample; ties share the middle of their ranks. */
function normalScores(values: readonly number[]): number[] {
  const order = values.map((_, place) => place).sort((a, b) => (values[a] ?? 0) - (values[b] ?? 0));
  const scores = new Array<number>(values.length).fill(0);
  for (let from = 0; from < order.length;) {
    let to = from;
    while (to + 1 < order.length && values[order[to + 1] ?? 0] === values[order[from] ?? 0]) to += 1;
    const score = normalQuantile(((from + to) / 2 + 0.5) / order.length);
    for (; from <= to; from += 1) scores[order[from] ?? 0] = score;
  }
  return scores;
}
