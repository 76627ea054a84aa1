import { FEATURES, type FeatureName, type FeatureStatistic } from "../../core/metrology/features";
import type { Seat } from "../../core/metrology/reading-name";
import type { CharacteristicName, CharacteristicUnit } from "../../core/metrology/shell-drawing";

/** How a stream is scored: sizes by the t distribution on both sides, form deviations by ranks upwards, the offset as a vector. */
export type AlarmKind = "size" | "form" | "vector";

/** A stream that alarms: a charted feature, or the offset vector. */
export type AlarmStream = Readonly<{
  key: FeatureName | "offset";
  characteristic: CharacteristicName;
  seat: Seat | null;
  /** Which number of it: the mean, the spread within the bore, one value, the vector. */
  statistic: FeatureStatistic;
  kind: AlarmKind;
  unit: CharacteristicUnit;
}>;

/**
 * The streams of one line, drawing and operation that alarm. Taper keeps its sign; coaxiality and the tilt of the datum seat are the
 * offset vector again, so they are judged but raise no alarm of their own.
 */
export const ALARM_STREAMS: readonly AlarmStream[] = [
  ...FEATURES.flatMap(({ name, characteristic, seat, statistic, unit, chart }): AlarmStream[] => {
    if (chart === null || name === "ds.tilt") return [];
    const isSize = statistic === "mean" || characteristic === "taper";
    return [{ key: name, characteristic, seat, statistic, kind: isSize ? "size" : "form", unit }];
  }),
  { key: "offset", characteristic: "coaxiality", seat: "nds", statistic: "component", kind: "vector", unit: "µm" },
];

/** The alarm stream of what a signal names: the components of the offset are one vector. */
export function alarmKeyOf(feature: string): AlarmStream["key"] | null {
  if (feature === "offset.12" || feature === "offset.3") return "offset";
  return ALARM_STREAMS.find(({ key }) => key === feature)?.key ?? null;
}
