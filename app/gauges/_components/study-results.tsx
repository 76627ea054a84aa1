import type { FDenominator } from "@/lib/core/gauge-studies/crossed-anova";
import type { StudySds } from "@/lib/core/gauge-studies/study-components";
import { formatFixed, formatIndex, formatPercent, withUnit } from "@/lib/format/number-text";
import type { GaugeStudyFinding } from "@/lib/quality/gauge-study-finding";
import type { GaugeStudy } from "@/lib/server/gauges/studies";
import { DataTable } from "@/lib/ui/data-table";
import { ErrorNotice } from "@/lib/ui/error-notice";
import { KeyValues } from "@/lib/ui/key-values";
import { SectionHeading } from "@/lib/ui/page-frame";
import styles from "../gauges.module.css";
import { STUDY_WORDS } from "../words";
import { StudyPlot } from "./study-plot";

const words = STUDY_WORDS.results;
const SOURCES = ["repeatability", "reproducibility", "interaction", "gauge", "part", "total"] as const;
const DENOMINATORS = ["repeatability", "interaction", "pooled"] as const satisfies readonly FDenominator[];
/** Standard deviations that a spread is taken as. */
const SPREAD = 6;
/** From so many inspectors on the upper bound of what lies between them is of use. */
const ENOUGH_INSPECTORS = 5;

/** Readings in mm are told in µm. */
export const studyScale = ({ unit }: Pick<GaugeStudy, "unit">): number => (unit === "mm" ? 1000 : 1);
/** A standard deviation or difference of a study, in µm. */
export const studyAmount = (study: Pick<GaugeStudy, "unit">, value: number): string =>
  withUnit(formatFixed(value * studyScale(study), 2), "µm");

function Shares({ study, finding }: Readonly<{ study: GaugeStudy; finding: GaugeStudyFinding }>) {
  const { components, ranges, anova } = finding;
  const { sds, intervals } = components;
  const amount = (value: number) => studyAmount(study, value);
  const share = (sd: number) =>
    study.tolerance === null ? words.noTolerance : formatPercent((SPREAD * sd) / study.tolerance);
  const byRange = (key: keyof StudySds) => (ranges === null || key === "interaction" ? null : ranges.sds[key]);
  return (
    <section>
      <SectionHeading aside={words.sixSd}>{words.shares}</SectionHeading>
      <DataTable
        caption={words.shares}
        captionHidden
        rowHead="source"
        columns={[
          { key: "source", label: words.source, cell: (key) => words.names[key] },
          { key: "share", label: words.tolerance, kind: "numeric", cell: (key) => share(sds[key]) },
          {
            key: "interval",
            label: words.interval,
            kind: "numeric",
            cell: (key) => words.between(share(intervals[key][0]), share(intervals[key][1])),
          },
          { key: "sd", label: words.sd, kind: "numeric", cell: (key) => amount(sds[key]) },
          {
            key: "process",
            label: words.process,
            kind: "numeric",
            cell: (key) => formatPercent(sds[key] / sds.total),
          },
          {
            key: "range",
            label: words.byRange,
            kind: "numeric",
            cell: (key) => {
              const sd = byRange(key);
              return sd === null ? words.notSeen : amount(sd);
            },
          },
        ]}
        rows={SOURCES}
        rowKey={(key) => key}
      />
      {anova.inspectors < ENOUGH_INSPECTORS ? <p className={styles.note}>{words.fewInspectors}</p> : null}
    </section>
  );
}

function Figures({ study, finding }: Readonly<{ study: GaugeStudy; finding: GaugeStudyFinding }>) {
  const { components, ranges, anova } = finding;
  const categories = (value: number | null) => (value === null ? words.none : String(Math.floor(value)));
  const f = (value: number | undefined) => (value === undefined ? words.none : formatFixed(value, 2));
  return (
    <section>
      <SectionHeading
        aside={
          components.pValue === null
            ? undefined
            : (components.isPooled ? words.pooled : words.notPooled)(formatIndex(components.pValue))
        }
      >
        {words.figures}
      </SectionHeading>
      <KeyValues
        pairs={[
          {
            label: words.categories,
            note: words.categoriesNote,
            value: categories(components.distinctCategories),
          },
          { label: words.categoriesByRange, value: categories(ranges?.distinctCategories ?? null) },
          {
            label: words.uncertainty,
            note: words.uncertaintyNote,
            value: `±${studyAmount(study, 2 * components.sds.gauge)}`,
          },
        ]}
      />
      <SectionHeading>{words.fTitle}</SectionHeading>
      <DataTable
        caption={words.fTitle}
        captionHidden
        rowHead="denominator"
        columns={[
          { key: "denominator", label: words.denominator, cell: (key) => words.denominators[key] },
          { key: "part", label: words.fPart, kind: "numeric", cell: (key) => f(anova.tests[key].part?.f) },
          { key: "who", label: words.fInspector, kind: "numeric", cell: (key) => f(anova.tests[key].inspector?.f) },
        ]}
        rows={DENOMINATORS}
        rowKey={(key) => key}
      />
    </section>
  );
}

/** What a complete study says: pictures first, then what it is made of. */
export function StudyResults({ study, finding }: Readonly<{ study: GaugeStudy; finding: GaugeStudyFinding }>) {
  const { layout, exchanged, off } = finding;
  return (
    <div className={styles.main}>
      {exchanged === null ? null : (
        <ErrorNotice tone="caution" title={words.exchanged}>
          <p>{words.exchangedText(exchanged.parts[0], exchanged.parts[1], exchanged.inspector, exchanged.trial)}</p>
        </ErrorNotice>
      )}
      <section>
        <SectionHeading aside={words.partsByJump}>{words.readings}</SectionHeading>
        <StudyPlot layout={layout} scale={studyScale(study)} unit="µm" label={words.plotLabel(layout.values.length)} />
        {off === null ? null : <p className={styles.note}>{words.habit}</p>}
      </section>
      <div className={styles.columns}>
        <Shares study={study} finding={finding} />
        <Figures study={study} finding={finding} />
      </div>
    </div>
  );
}

/** The finding as a headline. */
export function studyHeadline(study: GaugeStudy, { off, components }: GaugeStudyFinding): string {
  if (off !== null) {
    const amount = studyAmount(study, Math.abs(off.difference));
    return words.offTitle(study.gauge, off.inspector, (off.difference > 0 ? words.larger : words.smaller)(amount));
  }
  const spread = SPREAD * components.sds.gauge;
  return study.tolerance === null
    ? words.spreads(study.gauge, studyAmount(study, spread))
    : words.takesShare(study.gauge, formatPercent(spread / study.tolerance));
}
