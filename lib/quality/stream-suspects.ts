import { studentTQuantile } from "../core/distributions/student-t";
import { sampleMean, sampleSd } from "../core/numerics/descriptive-statistics";

/** Frames of one level that are needed before and after a change to compare it. */
const FEWEST_FRAMES = 5;
const CONFIDENCE = 0.99;

export type SuspectFactor = "gauge" | "fixture" | "inspector" | "tool";

/** Whether a change is seen alike at every level of a factor, or how much at which. */
export type Suspect = {
  readonly factor: SuspectFactor;
  readonly answer:
    | { readonly kind: "alike"; readonly levels: readonly string[] }
    | { readonly kind: "differs"; readonly most: string; readonly change: number; readonly others: number }
    | { readonly kind: "one-level"; readonly level: string }
    | { readonly kind: "came-with-it"; readonly level: string; readonly frames: number }
    | { readonly kind: "unknown" };
};

export type SuspectFrame = Readonly<Record<SuspectFactor, string | null>> & { readonly value: number };

type Level = { readonly name: string; readonly change: number; readonly variance: number; readonly freedom: number };

function compareLevels(
  before: readonly SuspectFrame[],
  after: readonly SuspectFrame[],
  factor: SuspectFactor,
): Level[] {
  const names = [...new Set(after.map((frame) => frame[factor]))].filter((name) => name !== null);
  return names.flatMap((name) => {
    const was = before.filter((frame) => frame[factor] === name).map((frame) => frame.value);
    const is = after.filter((frame) => frame[factor] === name).map((frame) => frame.value);
    if (was.length < FEWEST_FRAMES || is.length < FEWEST_FRAMES) return [];
    const variance = sampleSd(was) ** 2 / was.length + sampleSd(is) ** 2 / is.length;
    return [{ name, change: sampleMean(is) - sampleMean(was), variance, freedom: Math.min(was.length, is.length) - 1 }];
  });
}

/** A level that was not there before the change and is all that is there after it. */
function newLevel(
  frames: readonly SuspectFrame[],
  since: number,
  slack: number,
  factor: SuspectFactor,
): Suspect | null {
  const last = frames.at(-1)?.[factor] ?? null;
  if (last === null) return null;
  const first = frames.findIndex((frame) => frame[factor] === last);
  const staysNew = frames.slice(first).every((frame) => frame[factor] === last);
  if (first <= 0 || !staysNew || Math.abs(first - since) > slack) return null;
  return { factor, answer: { kind: "came-with-it", level: last, frames: since - first } };
}

/**
 * Which gauge, fixture, inspector or tool a change goes with.
 *
 * @param frames - in the order of measuring
 * @param since - index of the first frame after the change
 * @param slack - frames that the place of the change is uncertain by
 * Method: change of the mean by level, the largest against the mean of the others by their standard errors (Welch, 99 %)
 */
export function streamSuspects(frames: readonly SuspectFrame[], since: number, slack: number): Suspect[] {
  const before = frames.slice(0, since);
  const after = frames.slice(since);
  return (["gauge", "fixture", "inspector", "tool"] as const).map((factor): Suspect => {
    const isNew = newLevel(frames, since, slack, factor);
    if (isNew) return isNew;
    const seen = [...new Set(frames.map((frame) => frame[factor]))].filter((name) => name !== null);
    const only = seen[0];
    if (only === undefined) return { factor, answer: { kind: "unknown" } };
    if (seen.length === 1) return { factor, answer: { kind: "one-level", level: only } };
    const levels = compareLevels(before, after, factor);
    const most = levels.toSorted((a, b) => Math.abs(b.change) - Math.abs(a.change))[0];
    const rest = levels.filter((level) => level !== most);
    if (!most || rest.length === 0) return { factor, answer: { kind: "unknown" } };
    const others = sampleMean(rest.map((level) => level.change));
    const variance = most.variance + rest.reduce((sum, level) => sum + level.variance, 0) / rest.length ** 2;
    // As many comparisons as levels: each at its share of the error.
    const freedom = Math.min(...levels.map((level) => level.freedom));
    const reach = studentTQuantile(1 - (1 - CONFIDENCE) / (2 * levels.length), freedom) * Math.sqrt(variance);
    if (Math.abs(most.change - others) <= reach)
      return { factor, answer: { kind: "alike", levels: levels.map((level) => level.name) } };
    return { factor, answer: { kind: "differs", most: most.name, change: most.change, others } };
  });
}
