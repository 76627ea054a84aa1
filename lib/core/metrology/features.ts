import type { Seat } from "./reading-name";
import type { CharacteristicName, CharacteristicUnit } from "./shell-drawing";

/**
 * Which number of its characteristic a feature is: of every two-point size the smallest, largest, mean and range; one value; of
 * the offset vector its part towards 12 and 3 o'clock; the zone to the common axis A-B, which is shown and never judged.
 */
export type FeatureStatistic = "smallest" | "largest" | "mean" | "range" | "value" | "component" | "common";

/**
 * How it is charted: individuals with limits from the moving range, quantiles of a fitted distribution, or not by itself (a
 * vector has a chart of its own).
 */
export type FeatureChart = "individuals" | "quantile" | null;

/**
 * Features computed from the readings of one inspection, in the order in which a drawing revision stores them; a new one goes to
 * the end. Name; characteristic, which is also the key of its words; seat; statistic; unit; decimals in which a stream shows it;
 * default chart.
 */
const ROWS = [
  ["ds.bore.smallest", "bore", "ds", "smallest", "mm", 3, null],
  ["ds.bore.largest", "bore", "ds", "largest", "mm", 3, null],
  ["ds.bore.mean", "bore", "ds", "mean", "mm", 3, "individuals"],
  ["nds.bore.smallest", "bore", "nds", "smallest", "mm", 3, null],
  ["nds.bore.largest", "bore", "nds", "largest", "mm", 3, null],
  ["nds.bore.mean", "bore", "nds", "mean", "mm", 3, "individuals"],
  ["ds.ovality", "ovality", "ds", "value", "µm", 1, "quantile"],
  ["nds.ovality", "ovality", "nds", "value", "µm", 1, "quantile"],
  ["ds.taper", "taper", "ds", "value", "µm", 1, "quantile"],
  ["nds.taper", "taper", "nds", "value", "µm", 1, "quantile"],
  // Zone diameter of the swept seat to the other seat as datum.
  ["coaxiality", "coaxiality", "nds", "value", "µm", 1, null],
  // Offset of the swept seat's mid-point from the datum axis towards 12 o'clock and towards 3 o'clock.
  ["offset.12", "coaxiality", "nds", "component", "µm", 1, null],
  ["offset.3", "coaxiality", "nds", "component", "µm", 1, null],
  ["ds.tilt", "tilt", "ds", "value", "arcmin", 2, "quantile"],
  ["nds.tilt", "tilt", "nds", "value", "arcmin", 2, "quantile"],
  ["ds.face", "face run-out", "ds", "value", "µm", 1, "quantile"],
  ["nds.face", "face run-out", "nds", "value", "µm", 1, "quantile"],
  ["width.smallest", "width", null, "smallest", "mm", 3, null],
  ["width.largest", "width", null, "largest", "mm", 3, null],
  ["width.mean", "width", null, "mean", "mm", 3, "individuals"],
  // Spread within the bore: its chart stands beside the mean's.
  ["ds.bore.range", "bore", "ds", "range", "µm", 1, "quantile"],
  ["nds.bore.range", "bore", "nds", "range", "µm", 1, "quantile"],
  ["coaxiality.common", "coaxiality", "nds", "common", "µm", 1, null],
] as const satisfies readonly (readonly [
  string,
  CharacteristicName,
  Seat | null,
  FeatureStatistic,
  CharacteristicUnit,
  number,
  FeatureChart,
])[];

export type FeatureName = (typeof ROWS)[number][0];

/** What a feature is. */
export type Feature = {
  readonly name: FeatureName;
  readonly characteristic: CharacteristicName;
  readonly seat: Seat | null;
  readonly statistic: FeatureStatistic;
  readonly unit: CharacteristicUnit;
  readonly decimals: number;
  readonly chart: FeatureChart;
};

/** All features, in the order of storage. */
export const FEATURES: readonly Feature[] = ROWS.map(
  ([name, characteristic, seat, statistic, unit, decimals, chart]) => ({
    name,
    characteristic,
    seat,
    statistic,
    unit,
    decimals,
    chart,
  }),
);
export const FEATURE_NAMES: readonly FeatureName[] = FEATURES.map(({ name }) => name);

const BY_NAME: ReadonlyMap<string, Feature> = new Map(FEATURES.map((one) => [one.name, one]));

/** The feature of a name. */
export function featureNamed(name: FeatureName): Feature {
  const found = BY_NAME.get(name);
  if (found === undefined) throw new Error(`featureNamed: ${name} is no feature`);
  return found;
}

/** The feature of the same characteristic and seat by another statistic; null where there is none. */
export function featureBeside(name: FeatureName, statistic: FeatureStatistic): FeatureName | null {
  const { characteristic, seat } = featureNamed(name);
  const found = FEATURES.find(
    (one) => one.characteristic === characteristic && one.seat === seat && one.statistic === statistic,
  );
  return found?.name ?? null;
}

/** A judged feature's characteristic and seat; null for features that carry no limit. */
export function characteristicOf(feature: FeatureName): { name: CharacteristicName; seat: Seat | null } | null {
  const { characteristic, seat, statistic } = featureNamed(feature);
  const isJudged = statistic === "smallest" || statistic === "largest" || statistic === "value";
  return isJudged ? { name: characteristic, seat } : null;
}
