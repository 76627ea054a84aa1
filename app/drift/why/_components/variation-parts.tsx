import type { NestedComponent, NestedComponents } from "@/lib/core/control/causes/nested-components";
import type { Estimate } from "@/lib/core/errors";
import type { FeatureName } from "@/lib/core/metrology/features";
import { formatPercent } from "@/lib/format/number-text";
import { formatStreamSpread } from "@/lib/format/stream-words";
import type { WhyFactor } from "@/lib/quality/why/why-reading";
import { DataTable, type TableColumn } from "@/lib/ui/data-table";
import { SectionHeading } from "@/lib/ui/page-frame";
import { WHY_WORDS } from "../words";
import styles from "../why.module.css";

const words = WHY_WORDS.one.parts;

/** On fewer degrees of freedom a variance has no upper estimate worth a number. A choice, no source. */
const FEWEST_DEGREES = 3;

type Part = NestedComponent & { readonly name: string };

function partsOf({ between, cell, within }: NestedComponents, factor: WhyFactor): Part[] {
  return [
    ...(between === null ? [] : [{ ...between, name: words.betweenGroups(factor) }]),
    { ...cell, name: words.betweenShifts(factor) },
    { ...within, name: words.within },
  ];
}

function columnsFor(feature: FeatureName): readonly TableColumn<Part>[] {
  const say = (variance: number) => formatStreamSpread(Math.sqrt(variance), feature);
  return [
    { key: "part", label: words.part, cell: ({ name }) => name },
    { key: "sd", label: words.sd, kind: "numeric", cell: ({ variance }) => say(variance) },
    {
      key: "interval",
      label: words.interval,
      cell: ({ interval: [lower, upper], degrees }) =>
        degrees < FEWEST_DEGREES ? words.noUpper(say(lower)) : WHY_WORDS.one.between(say(lower), say(upper)),
    },
    {
      key: "share",
      label: words.share,
      cell: ({ share }) => (
        <span className={styles.share}>
          <i style={{ width: `${Math.round(share * 100)}%` }} />
          {formatPercent(Math.round(share * 1000) / 1000)}
        </span>
      ),
    },
    { key: "rests", label: words.rests, cell: ({ degrees }) => words.degrees(degrees) },
  ];
}

/** Between groups, between shifts, between frames of a shift: how much of the variation is of what. */
export function VariationParts({
  components,
  factor,
  feature,
}: Readonly<{ components: Estimate<NestedComponents>; factor: WhyFactor; feature: FeatureName }>) {
  return (
    <section>
      <SectionHeading aside={words.aside}>{words.heading}</SectionHeading>
      {components.ok ? (
        <>
          <DataTable
            caption={words.table}
            captionHidden
            rowHead="part"
            rows={partsOf(components.value, factor)}
            rowKey={({ name }) => name}
            columns={columnsFor(feature)}
          />
          <p className={styles.method}>
            {components.value.between === null ? "" : `${words.bears(factor, components.value.levels)} `}
            {words.method}
          </p>
        </>
      ) : (
        <p className={styles.method}>{components.reason}</p>
      )}
    </section>
  );
}
