/** Results of conformity (ISO 14253-1), worst last; "not measured" is the lack of a result. */
export const VERDICTS = ["conforms", "not proven", "does not conform", "not measured"] as const;

export type Verdict = (typeof VERDICTS)[number];
