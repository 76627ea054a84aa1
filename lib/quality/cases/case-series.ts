import type { FeatureName } from "../../core/metrology/features";
import { sampleMean } from "../../core/numerics/descriptive-statistics";
import { CHARTED_STREAMS } from "../control-limits";
import type { CaseFeature } from "./case";
import type { FoundCase } from "./found-case";

/** Those of a case's features that have a chart of their own: not the parts of a vector. */
export function chartedFeatures(features: readonly CaseFeature[]): FeatureName[] {
  return CHARTED_STREAMS.flatMap(({ feature }) => (features.includes(feature) ? [feature] : []));
}

/** Values of a stream over the frames round a case. */
export type GivenSeries = {
  readonly feature: FeatureName;
  readonly values: readonly (number | null)[];
  readonly lower: number | null;
  readonly upper: number | null;
};

/** One stream of a case as a small picture draws it; "offset" is the offset along the direction in which it moved, µm. */
export type CaseSeries = Omit<GivenSeries, "feature"> & {
  readonly feature: FeatureName | "offset";
  /** Mean before the first possible frame of the change, and from its first frame on; null without a frame, or of single frames. */
  readonly before: number | null;
  readonly since: number | null;
};

/** Where a case lies among the frames, as places; `until` is the last frame of it. */
export type CasePlaces = {
  readonly since: number;
  readonly earliest: number;
  readonly latest: number;
  readonly until: number;
};

/** Places of a case among the frames round it; null where its first frame is not among them. */
export function casePlaces(found: FoundCase, serials: readonly string[]): CasePlaces | null {
  const place = new Map(serials.map((serial, at) => [serial, at]));
  const since = place.get(found.since.serial);
  if (since === undefined) return null;
  const until = found.until === null ? undefined : place.get(found.until);
  return {
    since,
    earliest: place.get(found.since.earliest) ?? since,
    latest: place.get(found.since.latest) ?? since,
    until: Math.max(since, until ?? serials.length - 1),
  };
}

/** Offsets along a direction of the clock, µm. */
export function offsetAlong(
  offsets: readonly (readonly [number, number] | null)[],
  clockHours: number,
): (number | null)[] {
  const angle = (clockHours * Math.PI) / 6;
  return offsets.map((one) => (one === null ? null : one[0] * Math.cos(angle) + one[1] * Math.sin(angle)));
}

/** Most telling first: the lead, then what signalled by itself, then what moved along. */
function byWeight(found: FoundCase): (feature: FeatureName) => number {
  return (feature) => {
    if (feature === found.lead) return 0;
    return found.members.some((one) => one.feature === feature && one.by === "signal") ? 1 : 2;
  };
}

/**
 * The streams of a case for a small picture, the most telling first; of an offset that moved the offset along its direction first of all.
 *
 * @param most - how many
 */
export function caseSeries(
  found: FoundCase,
  places: CasePlaces,
  given: readonly GivenSeries[],
  offsets: { readonly values: readonly (readonly [number, number] | null)[]; readonly limit: number | null },
  most: number,
): readonly CaseSeries[] {
  const weight = byWeight(found);
  const { towards } = found;
  const along =
    towards === null
      ? []
      : [
          {
            feature: "offset" as const,
            values: offsetAlong(offsets.values, towards),
            lower: null,
            upper: offsets.limit,
          },
        ];
  const meanOf = (values: readonly (number | null)[]) => {
    const known = values.filter((value) => value !== null);
    return known.length === 0 ? null : sampleMean(known);
  };
  return [...along, ...given.toSorted((a, b) => weight(a.feature) - weight(b.feature))]
    .filter(({ values }) => values.some((value) => value !== null))
    .slice(0, most)
    .map((one) => ({
      ...one,
      before: meanOf(one.values.slice(0, places.earliest)),
      since: found.kind === "frames" ? null : meanOf(one.values.slice(places.since, places.until + 1)),
    }));
}
