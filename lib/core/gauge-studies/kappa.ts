import { CoreError, type Estimate } from "../errors";
import { fractionInterval } from "../distributions/binomial";
import { studentTQuantile } from "../distributions/student-t";

export type Kappa = Readonly<{
  kappa: number;
  standardError: number;
  interval: readonly [lower: number, upper: number];
  /** Share of agreeing pairs, seen and to be expected by chance. */
  observed: number;
  expected: number;
  /** Parts that it rests on, and pairs of decisions (Cohen) or decisions of a part (Fleiss). */
  parts: number;
  decisions: number;
}>;

/** One part's pairs of decisions, as numbers of categories. */
export type DecisionPair = readonly [number, number];

const ONE_CATEGORY =
  "All decisions are the same: kappa compares agreement with chance, and chance agrees here, too. Take parts of which some are good and some are not.";
const TOO_FEW = "Kappa needs at least two parts.";

/** Interval of an estimate from the parts' influence; where all parts agree wholly, from the exact bound of that share. */
function withInterval(kappa: Omit<Kappa, "interval">, confidence: number): Kappa {
  const { parts, observed, expected, standardError } = kappa;
  if (observed === 1) {
    const { lower } = fractionInterval(parts, parts, confidence);
    return { ...kappa, interval: [Math.max(-1, (lower - expected) / (1 - expected)), 1] };
  }
  const reach = studentTQuantile((1 + confidence) / 2, parts - 1) * standardError;
  return { ...kappa, interval: [Math.max(-1, kappa.kappa - reach), Math.min(1, kappa.kappa + reach)] };
}

function requireConfidence(name: string, confidence: number): void {
  if (!(confidence > 0 && confidence < 1))
    throw new CoreError("out-of-range", `${name}: confidence must be in (0, 1); got ${confidence}`);
}

/**
 * Cohen's kappa of two who decide, with the decisions of a part kept together.
 * Formula: kappa = (p_o - p_e) / (1 - p_e), p_e = sum of products of their shares of each category
 *
 * @param parts - pairs of decisions of each part, at least one a part; categories 0..categories - 1
 * @param categories - how many
 * @param confidence - of the two-sided interval, default 0.95
 * @returns see Kappa; ok: false with a reason where both decide the same for all, or for fewer than two parts
 * @throws CoreError too-few-values for a part without a pair, out-of-range
 * Method: variance of the linearised statistic between parts; with one pair a part the large-sample variance of the source, with
 *   the divisor n - 1. Interval by Student's t; full agreement has the exact lower bound of the share of agreeing parts.
 * Source: Cohen 1960, Educ. Psychol. Meas. 20, 37-46; Fleiss, Cohen and Everitt 1969, Psychol. Bull. 72, 323-327
 */
export function cohenKappa(
  parts: readonly (readonly DecisionPair[])[],
  categories: number,
  confidence = 0.95,
): Estimate<Kappa> {
  requireConfidence("cohenKappa", confidence);
  parts.forEach((pairs, index) => {
    if (pairs.length === 0)
      throw new CoreError("too-few-values", `cohenKappa: every part must have a pair; got 0 (at index ${index})`);
  });
  const n = parts.reduce((sum, pairs) => sum + pairs.length, 0);
  if (parts.length < 2) return { ok: false, reason: TOO_FEW };
  const first = new Float64Array(categories);
  const second = new Float64Array(categories);
  let alike = 0;
  for (const pairs of parts)
    for (const [one, other] of pairs) {
      first[one]! += 1 / n;
      second[other]! += 1 / n;
      if (one === other) alike += 1;
    }
  const observed = alike / n;
  const expected = first.reduce((sum, share, category) => sum + share * second[category]!, 0);
  if (alike === n && first.some((share) => share > 1 - 0.5 / n)) return { ok: false, reason: ONE_CATEGORY };
  const influence = ([one, other]: DecisionPair) =>
    (one === other ? 1 - expected : 0) - (second[one]! + first[other]!) * (1 - observed);
  const centre = observed * expected - 2 * expected + observed;
  const sums = parts.map((pairs) => pairs.reduce((sum, pair) => sum + influence(pair) - centre, 0));
  const square = sums.reduce((sum, each) => sum + each * each, 0);
  const variance = (square * parts.length) / (parts.length - 1) / (n * (1 - expected) ** 2) ** 2;
  const value = {
    kappa: (observed - expected) / (1 - expected),
    standardError: Math.sqrt(variance),
    observed,
    expected,
    parts: parts.length,
    decisions: n,
  };
  return { ok: true, warnings: [], value: withInterval(value, confidence) };
}

/** Fleiss' kappa from sums over parts, one of them left out or none. */
function fleissOf(shares: readonly number[], agreement: number): { kappa: number; expected: number } {
  const expected = shares.reduce((sum, share) => sum + share * share, 0);
  return { kappa: (agreement - expected) / (1 - expected), expected };
}

/**
 * Fleiss' kappa of several who decide on the same parts.
 * Formula: kappa = (P - P_e) / (1 - P_e), P = mean over parts of the share of agreeing pairs, P_e = sum of squared shares
 *
 * @param counts - for each part how many decided for each category; every part decided equally often, at least twice
 * @param confidence - of the two-sided interval, default 0.95
 * @returns see Kappa; ok: false with a reason where all decided the same, or for fewer than two parts
 * @throws CoreError too-few-values, length-mismatch, out-of-range
 * Method: standard error by leaving out one part at a time, since decisions of a part belong together; interval as of cohenKappa
 * Source: Fleiss 1971, Psychol. Bull. 76, 378-382; Efron and Tibshirani, An Introduction to the Bootstrap, 1993, chapter 11
 */
export function fleissKappa(counts: readonly (readonly number[])[], confidence = 0.95): Estimate<Kappa> {
  requireConfidence("fleissKappa", confidence);
  const n = counts.length;
  if (n < 2) return { ok: false, reason: TOO_FEW };
  const raters = counts[0]!.reduce((sum, each) => sum + each, 0);
  if (raters < 2) throw new CoreError("too-few-values", `fleissKappa: decisions of a part must be >= 2; got ${raters}`);
  counts.forEach((row, index) => {
    const sum = row.reduce((all, each) => all + each, 0);
    if (sum !== raters || row.length !== counts[0]!.length)
      throw new CoreError(
        "length-mismatch",
        `fleissKappa: every part must have ${raters} decisions; got ${sum} (at index ${index})`,
      );
  });
  const totals = counts[0]!.map((_, category) => counts.reduce((sum, row) => sum + row[category]!, 0));
  const pairs = counts.map((row) => row.reduce((sum, each) => sum + each * (each - 1), 0) / (raters * (raters - 1)));
  if (totals.some((total) => total === n * raters)) return { ok: false, reason: ONE_CATEGORY };
  const sum = pairs.reduce((all, each) => all + each, 0);
  const { kappa, expected } = fleissOf(
    totals.map((total) => total / (n * raters)),
    sum / n,
  );
  const without = counts.map((row, index) => {
    const shares = totals.map((total, category) => (total - row[category]!) / ((n - 1) * raters));
    // Without its only part of another kind all decide the same: agreement is as chance has it.
    return shares.includes(1) ? 0 : fleissOf(shares, (sum - pairs[index]!) / (n - 1)).kappa;
  });
  const mean = without.reduce((all, each) => all + each, 0) / n;
  const square = without.reduce((all, each) => all + (each - mean) ** 2, 0);
  const value = {
    kappa,
    standardError: Math.sqrt((square * (n - 1)) / n),
    observed: pairs.every((each) => each === 1) ? 1 : sum / n,
    expected,
    parts: n,
    decisions: raters,
  };
  return { ok: true, warnings: [], value: withInterval(value, confidence) };
}
