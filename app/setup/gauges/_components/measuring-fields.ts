import { zeroLimitUm } from "@/lib/core/metrology/comparator";
import { formatFixed, formatMm, formatSigned, withUnit } from "@/lib/format/number-text";
import type { GaugeItem } from "@/lib/server/gauges/register";
import type { EntryField } from "@/lib/ui/entry-form";
import { GAUGE_WORDS } from "../../words/gauges";

const words = GAUGE_WORDS.measuring;

type Measuring = Pick<GaugeItem, "kind" | "rangeLower" | "rangeUpper" | "repeatabilityUm">;

/** Range and repeatability of a gauge: a new one may be of any kind, and its hint then says the unit of each. */
export function measuringFields(gauge?: Measuring): readonly EntryField[] {
  const isSize = gauge?.kind === "bore" || gauge?.kind === "width";
  const isIndicator = gauge?.kind === "sweep" || gauge?.kind === "face";
  if (gauge !== undefined && !isSize && !isIndicator) return [];
  const unit = gauge === undefined ? {} : { unit: isSize ? "mm" : "µm" };
  const hint = gauge === undefined ? words.mmForSizes : words.rangeHint[gauge.kind];
  const number = { kind: "number", optional: true } as const;
  const value = (one: number | null | undefined) => (one === null || one === undefined ? {} : { value: String(one) });
  return [
    { name: "rangeLower", label: words.smallestShows, ...number, ...unit, ...value(gauge?.rangeLower) },
    {
      name: "rangeUpper",
      label: words.largestShows,
      ...number,
      ...unit,
      ...value(gauge?.rangeUpper),
      ...(hint === undefined ? {} : { hint }),
    },
    {
      name: "repeatabilityUm",
      label: words.repeatability,
      ...number,
      unit: "µm",
      hint: words.standardDeviationOfSameReading,
      ...value(gauge?.repeatabilityUm),
    },
  ];
}

/** What a gauge can show, "35 to 46 mm" or "−400 to +400 µm"; null where nobody entered it. */
export function rangeText({ kind, rangeLower, rangeUpper }: Measuring): string | null {
  if (rangeLower === null || rangeUpper === null) return null;
  if (kind === "bore" || kind === "width")
    return words.toRangeUpper(formatFixed(rangeLower, 2), formatMm(rangeUpper, 0.01));
  return words.toRangeUpper(formatSigned(rangeLower, 0), withUnit(formatSigned(rangeUpper, 0), "µm"));
}

/** The limit of its zero checks, and from what it follows. */
export function zeroLimitText(
  gauge: Pick<GaugeItem, "resolutionUm" | "repeatabilityUm" | "ringUncertaintyUm">,
): string {
  const limit = words.zeroChecksWithin(withUnit(formatFixed(zeroLimitUm(gauge), 2), "µm"));
  return gauge.repeatabilityUm === null
    ? words.sinceRepeatabilityIsUnknown(limit)
    : words.fromRingDisplayAndRepeatability(limit);
}
