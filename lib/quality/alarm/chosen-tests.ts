import type { ChosenTest } from "../../core/control/alarm/chosen-test";
import { rankScore, sizeScore } from "../../core/control/alarm/alarm-baseline";
import { cusumChart } from "../../core/control/charts/cusum-chart";
import { ewmaChart } from "../../core/control/charts/ewma-chart";
import { EIGHT_TESTS, LIMIT_TEST_ONLY, type RunRule, ZONE_TESTS } from "../../core/control/rules/run-rules";
import { scanRunRules } from "../../core/control/rules/scan-run-rules";
import { cusumRunLength } from "../../core/control/run-length/cusum-run-length";
import { cusumIntervalFor, ewmaWidthFor } from "../../core/control/run-length/design-chart";
import { ewmaRunLength } from "../../core/control/run-length/ewma-run-length";
import { rulesRunLength } from "../../core/control/run-length/rules-run-length";
import { normalUpperQuantile } from "../../core/distributions/normal";
import type { AlarmStream } from "./alarm-streams";
import { type LineColumns, seriesOf, type StartedStream } from "./run-line";

/** Weight of the EWMA and reference value of the single sum: for a change of one sd. Common practice, no source. */
const EWMA_WEIGHT = 0.15;
const SUM_REFERENCE = 0.5;
/** Longest run length that a test is designed for; beyond it its limit hardly changes. */
const LONGEST_RUN = 1e6;

export type ChosenTestFacts = Readonly<{
  test: ChosenTest;
  /** Frames between false signals where nothing changes. */
  runLength: number;
  /** False signals over those of the run length that the budget gives the stream. */
  share: number;
  /** Frames to the signal after a change of one sd. */
  delay: number;
}>;

const RULES: Readonly<Partial<Record<ChosenTest, readonly RunRule[]>>> = {
  "zone-tests": ZONE_TESTS,
  "eight-tests": EIGHT_TESTS,
};

/**
 * Run length, share of the budget and delay of a test that may be chosen for a stream, on independent normal scores.
 *
 * @param runLength - frames between false alarms that the budget gives the stream, at least 370
 * @returns zone and eight tests have the run length that they have, whatever the budget; the others are set to it, up to 1,000,000
 * @throws CoreError out-of-range
 * Method: Markov chain and integral equation of lib/core/control/run-length; the eight tests by its seeded simulation
 */
export function chosenTestFacts(test: ChosenTest, runLength: number): ChosenTestFacts {
  const rules = RULES[test];
  if (rules !== undefined) {
    const own = rulesRunLength(rules).mean;
    return { test, runLength: own, share: runLength / own, delay: rulesRunLength(rules, { shift: 1 }).mean };
  }
  const set = Math.min(LONGEST_RUN, runLength);
  const facts = { test, runLength: set, share: runLength / set };
  if (test === "ewma")
    return { ...facts, delay: ewmaRunLength({ lambda: EWMA_WEIGHT, width: ewmaWidthFor(EWMA_WEIGHT, set) }, 1) };
  if (test === "one-sum")
    return { ...facts, delay: cusumRunLength({ k: SUM_REFERENCE, h: cusumIntervalFor(SUM_REFERENCE, set) }, 1) };
  return { ...facts, delay: rulesRunLength(LIMIT_TEST_ONLY, { shift: 1, limit: limitFor(set) }).mean };
}

/** Limit of single scores on both sides, in sd. */
const limitFor = (runLength: number): number => normalUpperQuantile(0.5 / runLength);

/**
 * Places of the scores that a test marks.
 *
 * @param scores - standard normal where nothing changed, in the order of measuring
 * @param runLength - see chosenTestFacts
 */
export function chosenTestMarks(test: ChosenTest, scores: readonly number[], runLength: number): readonly number[] {
  if (scores.length === 0) return [];
  const set = Math.min(LONGEST_RUN, runLength);
  const lines = { centre: 0, sigma: 1 };
  const rules = RULES[test];
  const unique = (signals: readonly { readonly index: number }[]) =>
    [...new Set(signals.map(({ index }) => index))].sort((a, b) => a - b);
  if (rules !== undefined) return unique(scanRunRules(scores, lines, rules));
  if (test === "limit-only") {
    const limit = limitFor(set);
    return unique(scanRunRules(scores, { ...lines, lower: -limit, upper: limit }, LIMIT_TEST_ONLY));
  }
  const known = { target: 0, sigma: 1 };
  const chart =
    test === "ewma"
      ? ewmaChart(scores, {
          ...known,
          lambda: EWMA_WEIGHT,
          width: ewmaWidthFor(EWMA_WEIGHT, set),
          limits: "asymptotic",
        })
      : cusumChart(scores, {
          ...known,
          k: SUM_REFERENCE,
          h: cusumIntervalFor(SUM_REFERENCE, set),
          restart: true,
        });
  if (!chart.ok) return [];
  return unique([chart.value.main, ...chart.value.companions].flatMap(({ signals }) => signals));
}

/**
 * Scores of a stream against the baseline that it began with, counted from its centre: by the t distribution, or by ranks.
 *
 * @returns one a frame that has a value, with its place in the line; null for a vector, which has no sign
 */
export function chosenTestScores(
  line: LineColumns,
  stream: AlarmStream,
  { state }: StartedStream,
): readonly Readonly<{ frame: number; score: number }>[] | null {
  if (state.kind === "vector") return null;
  const { places, values } = seriesOf(line, stream);
  const { kind, baseline } = state;
  const scoreOf = (value: number) => (kind === "size" ? sizeScore(baseline, value) : rankScore(baseline, value));
  return values.map((value, at) => ({ frame: places[at] ?? 0, score: scoreOf(value) }));
}
