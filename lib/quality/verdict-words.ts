/**
 * Results of conformity (ISO 14253-1), worst last. "not measured" is the lack of a result; it is worse than a result inside
 * the uncertainty and better than a proven failure, which no further reading can take back.
 */
export const VERDICTS = ["conforms", "not proven", "not measured", "does not conform"] as const;

export type Verdict = (typeof VERDICTS)[number];

/** The worst of some verdicts; "not measured" when there are none. */
export function worstVerdict(verdicts: readonly Verdict[]): Verdict {
  if (verdicts.length === 0) return "not measured";
  return verdicts.reduce((worst, next) => (VERDICTS.indexOf(next) > VERDICTS.indexOf(worst) ? next : worst));
}
