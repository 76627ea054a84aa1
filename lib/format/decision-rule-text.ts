import type { DecisionRule } from "../core/metrology/shell-drawing";

/** By which rule a value near its limit is decided. */
export const DECISION_RULE_WORDS: Readonly<Record<DecisionRule, string>> = {
  "guard-u": "ISO 14253-1, guard band U\u00a0(k\u00a0=\u00a02)",
  "guard-1.65uc": "ISO 14253-1:2017, guard band 1.65\u00a0u",
  simple: "simple acceptance, no guard band",
};
