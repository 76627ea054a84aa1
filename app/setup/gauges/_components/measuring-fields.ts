import { zeroLimitUm } from "@/lib/core/metrology/comparator";
import { formatFixed, formatMm, formatSigned, withUnit } from "@/lib/format/number-text";
import type { GaugeItem } from "@/lib/server/gauges/register";
import type { EntryField } from "@/lib/ui/entry-form";

type Measuring = Pick<GaugeItem, "kind" | "rangeLower" | "rangeUpper" | "repeatabilityUm">;

const RANGE_HINT: Readonly<Record<string, string>> = {
  bore: "sizes that it can measure",
  width: "sizes that it can measure",
  sweep: "what it shows at either end of its travel, set as it is used",
  face: "what it shows at either end of its travel, set as it is used",
};

/** Range and repeatability of a gauge: a new one may be of any kind, and its hint then says the unit of each. */
export function measuringFields(gauge?: Measuring): readonly EntryField[] {
  const isSize = gauge?.kind === "bore" || gauge?.kind === "width";
  const isIndicator = gauge?.kind === "sweep" || gauge?.kind === "face";
  if (gauge !== undefined && !isSize && !isIndicator) return [];
  const unit = gauge === undefined ? {} : { unit: isSize ? "mm" : "µm" };
  const hint =
    gauge === undefined ? "mm for sizes, µm for an indicator; none for plugs and bars" : RANGE_HINT[gauge.kind];
  const number = { kind: "number", optional: true } as const;
  const value = (one: number | null | undefined) => (one === null || one === undefined ? {} : { value: String(one) });
  return [
    { name: "rangeLower", label: "smallest it shows", ...number, ...unit, ...value(gauge?.rangeLower) },
    {
      name: "rangeUpper",
      label: "largest it shows",
      ...number,
      ...unit,
      ...value(gauge?.rangeUpper),
      ...(hint === undefined ? {} : { hint }),
    },
    {
      name: "repeatabilityUm",
      label: "repeatability",
      ...number,
      unit: "µm",
      hint: "standard deviation of the same reading taken again",
      ...value(gauge?.repeatabilityUm),
    },
  ];
}

/** What a gauge can show, "35 to 46 mm" or "−400 to +400 µm"; null where nobody entered it. */
export function rangeText({ kind, rangeLower, rangeUpper }: Measuring): string | null {
  if (rangeLower === null || rangeUpper === null) return null;
  if (kind === "bore" || kind === "width") return `${formatFixed(rangeLower, 2)} to ${formatMm(rangeUpper, 0.01)}`;
  return `${formatSigned(rangeLower, 0)} to ${withUnit(formatSigned(rangeUpper, 0), "µm")}`;
}

/** The limit of its zero checks, and from what it follows. */
export function zeroLimitText(
  gauge: Pick<GaugeItem, "resolutionUm" | "repeatabilityUm" | "ringUncertaintyUm">,
): string {
  const limit = `zero checks within ${withUnit(formatFixed(zeroLimitUm(gauge), 2), "µm")}`;
  return gauge.repeatabilityUm === null
    ? `${limit}, since its repeatability is unknown`
    : `${limit}, from ring, display and repeatability`;
}
