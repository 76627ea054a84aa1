/**
 * One signal: the rule, the point at which the pattern became complete (`index`, zero based, in the
 * order of the values given) and every point that made the pattern, oldest first, `index` included.
 */
export type ChartSignal = Readonly<{
  index: number;
  rule: string;
  side: "upper" | "lower" | null;
  points: readonly number[];
}>;
