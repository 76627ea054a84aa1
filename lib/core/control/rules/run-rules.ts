import { CoreError } from "../../errors";

/**
 * One run rule. All distances are in standard deviations of the plotted statistic from the centre line,
 * all comparisons are strict: a point on a line is not beyond it. The newest point of a pattern must
 * itself belong to it, and it is the one that signals.
 *
 * - beyond-limit: one point beyond the chart's limit, or beyond `sigmas` where given
 * - same-side: `length` points in a row on one side of the centre line (a point on the line ends a run)
 * - monotone: `length` points in a row, each above (each below) the one before; a tie ends the run
 * - alternating: `length` points in a row going up and down in turn; a tie ends the run
 * - k-of-m: `k` of `m` points in a row beyond `sigmas` on the same side, the others anywhere
 * - within: `length` points in a row not beyond `sigmas` on either side
 * - outside: `length` points in a row all beyond `sigmas`, on either side
 */
export type RunRule = Readonly<
  { id: string } & (
    | { test: "beyond-limit"; sigmas?: number }
    | { test: "same-side"; length: number }
    | { test: "monotone"; length: number }
    | { test: "alternating"; length: number }
    | { test: "k-of-m"; k: number; m: number; sigmas: number }
    | { test: "within"; length: number; sigmas: number }
    | { test: "outside"; length: number; sigmas: number }
  )
>;

/** The four zone tests. Source: Statistical Quality Control Handbook, 1956, pp. 23-28. */
export const ZONE_TESTS: readonly RunRule[] = [
  { id: "zone-1", test: "beyond-limit" },
  { id: "zone-2", test: "k-of-m", k: 2, m: 3, sigmas: 2 },
  { id: "zone-3", test: "k-of-m", k: 4, m: 5, sigmas: 1 },
  { id: "zone-4", test: "same-side", length: 8 },
];

/** The eight tests. Source: Nelson 1984, Journal of Quality Technology 16(4) 237-239; ISO 7870-2. */
export const EIGHT_TESTS: readonly RunRule[] = [
  { id: "test-1", test: "beyond-limit" },
  { id: "test-2", test: "same-side", length: 9 },
  { id: "test-3", test: "monotone", length: 6 },
  { id: "test-4", test: "alternating", length: 14 },
  { id: "test-5", test: "k-of-m", k: 2, m: 3, sigmas: 2 },
  { id: "test-6", test: "k-of-m", k: 4, m: 5, sigmas: 1 },
  { id: "test-7", test: "within", length: 15, sigmas: 1 },
  { id: "test-8", test: "outside", length: 8, sigmas: 1 },
];

/** A point beyond the chart's limit and nothing else: what charts of spread and of skewed values use. */
export const LIMIT_TEST_ONLY: readonly RunRule[] = [{ id: "test-1", test: "beyond-limit" }];

/** Longest pattern a rule may ask for: histories are 32-bit masks, one bit stays free. */
export const MAX_RULE_LENGTH = 31;

/**
 * Number of points, the newest included, on which the signals at the newest point can depend.
 * Replaying that many points gives the signals of the whole series at the last of them.
 *
 * @param rules - any number of run rules
 * @returns integer >= 1
 * @throws CoreError out-of-range if a rule has a length, count or distance outside its range
 */
export function windowNeeded(rules: readonly RunRule[]): number {
  let longest = 1;
  for (const rule of rules) {
    assertRunRule(rule);
    if (rule.test === "k-of-m") longest = Math.max(longest, rule.m);
    else if (rule.test !== "beyond-limit") longest = Math.max(longest, rule.length);
  }
  return longest;
}

/** Throws unless every number of the rule lies in its range. */
export function assertRunRule(rule: RunRule): void {
  const refuse = (what: string, must: string, got: unknown): never => {
    throw new CoreError("out-of-range", `assertRunRule: ${what} must ${must}; got ${String(got)}`, { rule });
  };
  const integer = (what: string, value: number, low: number, high: number) => {
    if (!Number.isInteger(value) || value < low || value > high)
      refuse(what, `be an integer from ${low} to ${high}`, value);
  };
  const distance = (value: number) => {
    if (!Number.isFinite(value) || value < 0) refuse("sigmas", "be a finite number >= 0", value);
  };
  switch (rule.test) {
    case "beyond-limit":
      if (rule.sigmas !== undefined) distance(rule.sigmas);
      return;
    case "same-side":
      integer("length", rule.length, 1, MAX_RULE_LENGTH);
      return;
    case "monotone":
      integer("length", rule.length, 2, MAX_RULE_LENGTH);
      return;
    case "alternating":
      integer("length", rule.length, 3, MAX_RULE_LENGTH);
      return;
    case "k-of-m":
      integer("m", rule.m, 1, MAX_RULE_LENGTH);
      integer("k", rule.k, 1, rule.m);
      distance(rule.sigmas);
      return;
    case "within":
    case "outside":
      integer("length", rule.length, 1, MAX_RULE_LENGTH);
      distance(rule.sigmas);
      return;
    default:
      refuse("test", "be a known test", (rule as { test: unknown }).test);
  }
}
