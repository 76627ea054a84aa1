import type { Metadata } from "next";
import { formatDay } from "@/lib/format/date-text";
import { formatFixed, formatMm, withUnit } from "@/lib/format/number-text";
import { mayDo } from "@/lib/server/auth/permissions";
import { getSetupOverview } from "@/lib/server/plant/queries";
import { listGauges, listRings } from "@/lib/server/gauges/register";
import { DataTable } from "@/lib/ui/data-table";
import { EmptyState } from "@/lib/ui/empty-state";
import { ErrorNotice } from "@/lib/ui/error-notice";
import { SectionHeading } from "@/lib/ui/page-frame";
import { requireViewer } from "../../_components/work-page";
import { EntryForm } from "@/lib/ui/entry-form";
import { outWords, PartLink } from "../_components/part-link";
import { GAUGE_WORDS } from "../words/gauges";
import parts from "../_components/parts.module.css";
import { SetupPage } from "../_components/setup-page";
import { addCalibrationAction, createGaugeAction, createSettingRingAction } from "../actions";
import styles from "../setup.module.css";
import { CALIBRATION_DONE, CALIBRATION_FIELDS } from "./_components/calibration-fields";
import { measuringFields, rangeText } from "./_components/measuring-fields";

const words = GAUGE_WORDS.gauges;

export const metadata: Metadata = { title: words.gaugesAndRings };

const KINDS = [
  { value: "bore", label: words.boreDiameters },
  { value: "sweep", label: words.sweepsRoundClock },
  { value: "face", label: words.faceReadings },
  { value: "width", label: words.widths },
  { value: "plug", label: words.plugFeel },
  { value: "bar", label: words.barPassage },
];
const PRINCIPLES = [
  { value: "two-point", label: words.twoPoint },
  { value: "three-point", label: words.threePointBlindToOvality },
  { value: "indicator", label: words.indicator },
  { value: "caliper", label: words.caliper },
  { value: words.plainPlug, label: words.plainPlug },
  { value: "bar", label: words.bar },
];

/** Plugs and bars show no number. */
const isFelt = ({ kind }: { readonly kind: string }) => kind === "plug" || kind === "bar";

export default async function GaugesPage() {
  const viewer = await requireViewer("/setup/gauges", "gauges.view");
  const { plantZone: zone } = viewer;
  const [gauges, rings, overview] = await Promise.all([
    listGauges(viewer),
    listRings(viewer),
    getSetupOverview(viewer),
  ]);
  const manages = mayDo(viewer, "gauges.manage");
  const unknown = gauges.filter((gauge) => gauge.inUse && rangeText(gauge) === null && !isFelt(gauge));
  const day = (time: string) => <span className={styles.whole}>{formatDay(time, { zone })}</span>;
  const stations = overview.lines.flatMap((line) =>
    line.stations.map((one) => ({ ...one, inUse: one.inUse && line.inUse })),
  );
  return (
    <SetupPage viewer={viewer} current="gauges" title={words.gaugesRingsAndCalibrations} lead={words.lead}>
      <section>
        <SectionHeading>{words.gauges}</SectionHeading>
        {unknown.length === 0 ? null : (
          <ErrorNotice tone="caution" title={words.rangeIsMissing}>
            <p>{words.nobodyEnteredWhatCanShow(unknown.map(({ key }) => key).join(", "))}</p>
          </ErrorNotice>
        )}
        <DataTable
          caption={words.gauges}
          captionHidden
          rowHead="key"
          columns={[
            {
              key: "key",
              label: words.gauge,
              kind: "code",
              cell: (gauge) => <PartLink href="/setup/gauges" part={gauge.key} out={outWords(gauge.inUse)} />,
            },
            { key: "name", label: words.name, cell: (gauge) => gauge.name },
            {
              key: "measures",
              label: words.measuresBy,
              cell: (gauge) => (gauge.kind === gauge.principle ? gauge.kind : `${gauge.kind}, ${gauge.principle}`),
            },
            {
              key: "resolution",
              label: words.resolution,
              kind: "numeric",
              cell: (gauge) => (isFelt(gauge) ? words.felt : withUnit(formatFixed(gauge.resolutionUm, 1), "µm")),
            },
            {
              key: "range",
              label: words.range,
              cell: (gauge) => rangeText(gauge) ?? (isFelt(gauge) ? words.felt : words.notEntered),
            },
            { key: "ring", label: words.ring, kind: "code", cell: (gauge) => gauge.ring ?? words.none },
            { key: "station", label: words.station, kind: "code", cell: (gauge) => gauge.station ?? words.any },
            {
              key: "until",
              label: words.calibratedUntil,
              cell: (gauge) => (gauge.calibrations[0] ? day(gauge.calibrations[0].dueAt) : words.neverCalibrated),
            },
          ]}
          rows={gauges}
          rowKey={(gauge) => gauge.key}
          empty={<EmptyState title={words.noGaugeYet}>{words.lineAsksForGauge}</EmptyState>}
        />
        {manages ? (
          <div className={parts.section}>
            <SectionHeading>{words.addGauge}</SectionHeading>
            <EntryForm
              inline
              fields={[
                { name: "key", label: words.key, kind: "code" },
                { name: "name", label: words.name },
                { name: "kind", label: words.measures, kind: "choice", options: KINDS },
                { name: "principle", label: words.principle, kind: "choice", options: PRINCIPLES },
                { name: "resolutionUm", label: words.resolution, kind: "number", unit: "µm" },
                ...measuringFields(),
                {
                  name: "ring",
                  label: words.settingRing,
                  kind: "choice",
                  optional: true,
                  options: rings
                    .filter(({ inUse }) => inUse)
                    .map((ring) => ({
                      value: ring.key,
                      label: `${ring.key}, ${formatMm(ring.certifiedSizeMm, 0.0001)}`,
                    })),
                },
                {
                  name: "station",
                  label: words.keptAtStation,
                  kind: "choice",
                  optional: true,
                  hint: words.noneUsedAtAny,
                  options: stations
                    .filter(({ inUse }) => inUse)
                    .map(({ key, name }) => ({ value: key, label: `${key}, ${name}` })),
                },
              ]}
              action={createGaugeAction}
              submit={words.addGaugeHeading}
              done={words.addedEnterCalibrationNext}
            />
          </div>
        ) : null}
      </section>
      <div className={`${parts.parts} ${parts.section}`}>
        <section>
          <SectionHeading>{words.settingRings}</SectionHeading>
          <DataTable
            caption={words.settingRings}
            captionHidden
            rowHead="key"
            columns={[
              {
                key: "key",
                label: words.ring,
                kind: "code",
                cell: (ring) => <PartLink href="/setup/gauges/rings" part={ring.key} out={outWords(ring.inUse)} />,
              },
              {
                key: "size",
                label: words.certifiedSize,
                kind: "numeric",
                cell: (ring) => formatMm(ring.certifiedSizeMm, 0.0001),
              },
              {
                key: "u",
                label: words.uK2,
                kind: "numeric",
                cell: (ring) => withUnit(formatFixed(ring.uncertaintyUm, 2), "µm"),
              },
            ]}
            rows={rings}
            rowKey={(ring) => ring.key}
            empty={<EmptyState title={words.noRingYet}>{words.comparatorIsSetAndChecked}</EmptyState>}
          />
          {manages ? (
            <EntryForm
              inline
              fields={[
                { name: "key", label: words.key, kind: "code" },
                { name: "certifiedSizeMm", label: words.certifiedSize, kind: "number", unit: "mm" },
                { name: "uncertaintyUm", label: words.ringUncertainty, kind: "number", unit: "µm" },
              ]}
              action={createSettingRingAction}
              submit={words.addRing}
              done={words.added}
            />
          ) : null}
        </section>
        <section>
          <SectionHeading aside={words.newestOfEachGaugeCounts}>{words.calibrations}</SectionHeading>
          <DataTable
            caption={words.calibrations}
            captionHidden
            rowHead="gauge"
            columns={[
              { key: "gauge", label: words.gauge, kind: "code", cell: (one) => one.gauge },
              { key: "at", label: words.calibrated, cell: (one) => day(one.at) },
              { key: "due", label: words.due, cell: (one) => day(one.dueAt) },
              {
                key: "bias",
                label: words.bias,
                kind: "numeric",
                cell: (one) => (one.biasUm === null ? words.notStated : withUnit(formatFixed(one.biasUm, 1), "µm")),
              },
              {
                key: "certificate",
                label: words.certificate,
                kind: "code",
                cell: (one) => one.certificate ?? words.none,
              },
            ]}
            rows={gauges.flatMap(({ key, calibrations }) => calibrations.map((one) => ({ ...one, gauge: key })))}
            rowKey={(one, place) => `${one.gauge} ${place}`}
            empty={<EmptyState title={words.noCalibrationYet}>{words.enterCertificateOfEachGauge}</EmptyState>}
          />
          {manages ? (
            <EntryForm
              inline
              fields={[
                {
                  name: "gauge",
                  label: words.gauge,
                  kind: "choice",
                  options: gauges
                    .filter(({ inUse }) => inUse)
                    .map(({ key, name }) => ({ value: key, label: `${key}, ${name}` })),
                },
                ...CALIBRATION_FIELDS,
              ]}
              action={addCalibrationAction}
              submit={words.enterCalibration}
              done={CALIBRATION_DONE}
            />
          ) : null}
        </section>
      </div>
    </SetupPage>
  );
}
