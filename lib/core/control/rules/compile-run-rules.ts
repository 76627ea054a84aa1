import { CoreError } from "../../errors";
import { assertRunRule, windowNeeded, type RunRule } from "./run-rules";

/**
 * A set of rules as one uniform list of checks. Every rule, each side of it apart, is "`need` of the last
 * `span` bits are set, the newest included" on a history of one bit a point:
 * bits of the zone a point lies in come from `zoneBits`, three more from its direction.
 */
export type CompiledRunRules = Readonly<{
  rules: readonly RunRule[];
  /** Distances in sigma, ascending, that divide the chart into zones. */
  distances: readonly number[];
  /** Bits of all checks by zone: 0 between the first lines, j above j lines, distances.length + j below j lines. */
  zoneBits: readonly number[];
  /** Checks that a point above the upper, below the lower limit sets. */
  upperLimitBits: number;
  lowerLimitBits: number;
  risingBits: number;
  fallingBits: number;
  turningBits: number;
  checks: readonly RunCheck[];
  window: number;
}>;

export type RunCheck = Readonly<{
  rule: string;
  side: "upper" | "lower" | null;
  need: number;
  span: number;
  /** Points before the oldest bit that also belong to the pattern: a difference has two ends. */
  lead: number;
}>;

/** Checks share one 32-bit word a point; the sign bit is left out. */
const MAX_CHECKS = 31;

type Source =
  | { kind: "limit"; side: "upper" | "lower" }
  | { kind: "above" | "below" | "within" | "outside"; sigmas: number }
  | { kind: "rising" | "falling" | "turning" };

function sourcesOf(rule: RunRule): readonly (RunCheck & { source: Source })[] {
  const check = (side: RunCheck["side"], source: Source, need: number, span: number, lead = 0) => ({
    rule: rule.id,
    side,
    need,
    span,
    lead,
    source,
  });
  switch (rule.test) {
    case "beyond-limit":
      return rule.sigmas === undefined
        ? [
            check("upper", { kind: "limit", side: "upper" }, 1, 1),
            check("lower", { kind: "limit", side: "lower" }, 1, 1),
          ]
        : [
            check("upper", { kind: "above", sigmas: rule.sigmas }, 1, 1),
            check("lower", { kind: "below", sigmas: rule.sigmas }, 1, 1),
          ];
    case "same-side":
      return [
        check("upper", { kind: "above", sigmas: 0 }, rule.length, rule.length),
        check("lower", { kind: "below", sigmas: 0 }, rule.length, rule.length),
      ];
    case "k-of-m":
      return [
        check("upper", { kind: "above", sigmas: rule.sigmas }, rule.k, rule.m),
        check("lower", { kind: "below", sigmas: rule.sigmas }, rule.k, rule.m),
      ];
    case "monotone":
      return [
        check("upper", { kind: "rising" }, rule.length - 1, rule.length - 1, 1),
        check("lower", { kind: "falling" }, rule.length - 1, rule.length - 1, 1),
      ];
    case "alternating":
      return [check(null, { kind: "turning" }, rule.length - 2, rule.length - 2, 2)];
    case "within":
    case "outside":
      return [check(null, { kind: rule.test, sigmas: rule.sigmas }, rule.length, rule.length)];
  }
}

/**
 * Translates run rules into the checks that the scan, the incremental form and the run-length chain share.
 *
 * @param rules - any number of rules with distinct ids
 * @throws CoreError out-of-range if a rule is outside its range or the set needs more than 31 checks
 * @throws CoreError duplicate if two rules share an id
 */
export function compileRunRules(rules: readonly RunRule[]): CompiledRunRules {
  const ids = new Set<string>();
  for (const rule of rules) {
    assertRunRule(rule);
    if (ids.has(rule.id))
      throw new CoreError("duplicate", `compileRunRules: rules must have distinct ids; got ${rule.id} twice`, {
        id: rule.id,
      });
    ids.add(rule.id);
  }
  const entries = rules.flatMap(sourcesOf);
  if (entries.length > MAX_CHECKS) {
    throw new CoreError(
      "out-of-range",
      `compileRunRules: rules must need at most ${MAX_CHECKS} one-sided checks; got ${entries.length}`,
    );
  }
  const distances = [...new Set(entries.flatMap(({ source }) => ("sigmas" in source ? [source.sigmas] : [])))].sort(
    (a, b) => a - b,
  );
  const bitsOf = (holds: (source: Source) => boolean) =>
    entries.reduce((bits, { source }, index) => (holds(source) ? bits | (1 << index) : bits), 0);
  const zoneBits = Array.from({ length: 2 * distances.length + 1 }, (_, zone) => {
    const above = zone <= distances.length ? zone : 0;
    const below = zone <= distances.length ? 0 : zone - distances.length;
    return bitsOf((source) => {
      if (!("sigmas" in source)) return false;
      const rank = distances.indexOf(source.sigmas);
      if (source.kind === "above") return rank < above;
      if (source.kind === "below") return rank < below;
      const beyond = rank < Math.max(above, below);
      return source.kind === "outside" ? beyond : !beyond;
    });
  });
  return {
    rules,
    distances,
    zoneBits,
    upperLimitBits: bitsOf((source) => source.kind === "limit" && source.side === "upper"),
    lowerLimitBits: bitsOf((source) => source.kind === "limit" && source.side === "lower"),
    risingBits: bitsOf((source) => source.kind === "rising"),
    fallingBits: bitsOf((source) => source.kind === "falling"),
    turningBits: bitsOf((source) => source.kind === "turning"),
    checks: entries.map(({ rule, side, need, span, lead }) => ({ rule, side, need, span, lead })),
    window: windowNeeded(rules),
  };
}

/** Number of set bits of a 32-bit integer. Source: Warren, Hacker's Delight, 2nd ed., 5-1. */
export function setBitCount(bits: number): number {
  let v = bits - ((bits >>> 1) & 0x55555555);
  v = (v & 0x33333333) + ((v >>> 2) & 0x33333333);
  return Math.imul((v + (v >>> 4)) & 0x0f0f0f0f, 0x01010101) >>> 24;
}
