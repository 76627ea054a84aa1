import { LIMIT_TEST_ONLY, ZONE_TESTS, type RunRule } from "../rules/run-rules";

/** Kinds of characteristic that a stream may be of. */
export type CharacteristicKind =
  | "size"
  | "width"
  | "offset"
  | "ovality"
  | "run-out"
  | "taper"
  | "tilt"
  | "count-nonconforming"
  | "count-nonconformities";

/** The chart that the data of one kind of characteristic call for. */
export type DefaultChart = Readonly<{
  chart: "between-within" | "individuals" | "t2-vector" | "quantile-individuals" | "p" | "u";
  /** Charts beside it. */
  beside: readonly ("moving-range" | "spread-within" | "target-plot" | "one-sided-ewma")[];
  rules: readonly RunRule[];
  /** Why, in words. */
  reason: string;
}>;

/**
 * The default chart of a characteristic.
 *
 * @param kind - what is measured
 * @param options - readingsPerFrame: readings of one seat that make its mean, 1 by default
 * @returns chart, companions, rules and the reason
 * Source: the design of this project; readings within a part: Roes and Does 1995, Technometrics 37(1) 15-24
 */
export function defaultChart(
  kind: CharacteristicKind,
  options: Readonly<{ readingsPerFrame?: number }> = {},
): DefaultChart {
  const several = (options.readingsPerFrame ?? 1) > 1;
  switch (kind) {
    case "size":
    case "width":
      return several
        ? {
            chart: "between-within",
            beside: ["moving-range", "spread-within"],
            rules: ZONE_TESTS,
            reason:
              "Several readings of one bore are no subgroup: individuals of the mean between frames, the spread within beside it.",
          }
        : {
            chart: "individuals",
            beside: ["moving-range"],
            rules: ZONE_TESTS,
            reason: "One value a frame: individuals with moving range.",
          };
    case "offset":
      return {
        chart: "t2-vector",
        beside: ["target-plot"],
        rules: LIMIT_TEST_ONLY,
        reason:
          "The offset is a vector: a chart of its length alone would give four times the false alarms above and lose the direction.",
      };
    case "ovality":
    case "run-out":
    case "taper":
    case "tilt":
      return {
        chart: "quantile-individuals",
        beside: ["one-sided-ewma"],
        rules: LIMIT_TEST_ONLY,
        reason:
          "Bounded by zero and skewed: limits at quantiles of the fitted distribution, a one-sided EWMA for small shifts, no zone tests.",
      };
    case "count-nonconforming":
      return {
        chart: "p",
        beside: [],
        rules: LIMIT_TEST_ONLY,
        reason: "Nonconforming frames of a number inspected: proportions, corrected where they vary more than chance.",
      };
    case "count-nonconformities":
      return {
        chart: "u",
        beside: [],
        rules: LIMIT_TEST_ONLY,
        reason: "Nonconformities a frame: counts for each unit inspected.",
      };
  }
}
