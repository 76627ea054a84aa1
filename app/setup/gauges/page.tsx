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
import parts from "../_components/parts.module.css";
import { SetupPage } from "../_components/setup-page";
import { addCalibrationAction, createGaugeAction, createSettingRingAction } from "../actions";
import styles from "../setup.module.css";
import { CALIBRATION_DONE, CALIBRATION_FIELDS } from "./_components/calibration-fields";
import { measuringFields, rangeText } from "./_components/measuring-fields";

export const metadata: Metadata = { title: "Gauges and rings" };

const KINDS = [
  { value: "bore", label: "bore diameters" },
  { value: "sweep", label: "sweeps round the clock" },
  { value: "face", label: "face readings" },
  { value: "width", label: "widths" },
  { value: "plug", label: "plug feel" },
  { value: "bar", label: "bar passage" },
];
const PRINCIPLES = [
  { value: "two-point", label: "two-point: blind to odd lobes" },
  { value: "three-point", label: "three-point: blind to ovality" },
  { value: "indicator", label: "indicator" },
  { value: "caliper", label: "caliper" },
  { value: "plain plug", label: "plain plug" },
  { value: "bar", label: "bar" },
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
    <SetupPage
      viewer={viewer}
      current="gauges"
      title="Gauges, rings and calibrations"
      lead="A gauge without a calibration in force proves nothing for a release: what it measures is not proven."
    >
      <section>
        <SectionHeading>Gauges</SectionHeading>
        {unknown.length === 0 ? null : (
          <ErrorNotice tone="caution" title="A range is missing">
            <p>
              Nobody entered what {unknown.map(({ key }) => key).join(", ")} can show. Until then a value that the gauge
              cannot show is not refused, and a needle at its stop is harder to find.
            </p>
          </ErrorNotice>
        )}
        <DataTable
          caption="Gauges"
          captionHidden
          rowHead="key"
          columns={[
            {
              key: "key",
              label: "gauge",
              kind: "code",
              cell: (gauge) => <PartLink href="/setup/gauges" part={gauge.key} out={outWords(gauge.inUse)} />,
            },
            { key: "name", label: "name", cell: (gauge) => gauge.name },
            {
              key: "measures",
              label: "measures, by",
              cell: (gauge) => (gauge.kind === gauge.principle ? gauge.kind : `${gauge.kind}, ${gauge.principle}`),
            },
            {
              key: "resolution",
              label: "resolution",
              kind: "numeric",
              cell: (gauge) => (isFelt(gauge) ? "felt" : withUnit(formatFixed(gauge.resolutionUm, 1), "µm")),
            },
            {
              key: "range",
              label: "range",
              cell: (gauge) => rangeText(gauge) ?? (isFelt(gauge) ? "felt" : "not entered"),
            },
            { key: "ring", label: "ring", kind: "code", cell: (gauge) => gauge.ring ?? "none" },
            { key: "station", label: "station", kind: "code", cell: (gauge) => gauge.station ?? "any" },
            {
              key: "until",
              label: "calibrated until",
              cell: (gauge) => (gauge.calibrations[0] ? day(gauge.calibrations[0].dueAt) : "never calibrated"),
            },
          ]}
          rows={gauges}
          rowKey={(gauge) => gauge.key}
          empty={<EmptyState title="No gauge yet">Line asks for a gauge with every reading.</EmptyState>}
        />
        {manages ? (
          <div className={parts.section}>
            <SectionHeading>Add a gauge</SectionHeading>
            <EntryForm
              inline
              fields={[
                { name: "key", label: "key", kind: "code" },
                { name: "name", label: "name" },
                { name: "kind", label: "measures", kind: "choice", options: KINDS },
                { name: "principle", label: "principle", kind: "choice", options: PRINCIPLES },
                { name: "resolutionUm", label: "resolution", kind: "number", unit: "µm" },
                ...measuringFields(),
                {
                  name: "ring",
                  label: "setting ring",
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
                  label: "kept at station",
                  kind: "choice",
                  optional: true,
                  hint: "none: used at any",
                  options: stations
                    .filter(({ inUse }) => inUse)
                    .map(({ key, name }) => ({ value: key, label: `${key}, ${name}` })),
                },
              ]}
              action={createGaugeAction}
              submit="Add the gauge"
              done="Added; enter its calibration next."
            />
          </div>
        ) : null}
      </section>
      <div className={`${parts.parts} ${parts.section}`}>
        <section>
          <SectionHeading>Setting rings</SectionHeading>
          <DataTable
            caption="Setting rings"
            captionHidden
            rowHead="key"
            columns={[
              {
                key: "key",
                label: "ring",
                kind: "code",
                cell: (ring) => <PartLink href="/setup/gauges/rings" part={ring.key} out={outWords(ring.inUse)} />,
              },
              {
                key: "size",
                label: "certified size",
                kind: "numeric",
                cell: (ring) => formatMm(ring.certifiedSizeMm, 0.0001),
              },
              {
                key: "u",
                label: "U (k = 2)",
                kind: "numeric",
                cell: (ring) => withUnit(formatFixed(ring.uncertaintyUm, 2), "µm"),
              },
            ]}
            rows={rings}
            rowKey={(ring) => ring.key}
            empty={<EmptyState title="No ring yet">A comparator is set and checked with one.</EmptyState>}
          />
          {manages ? (
            <EntryForm
              inline
              fields={[
                { name: "key", label: "key", kind: "code" },
                { name: "certifiedSizeMm", label: "certified size", kind: "number", unit: "mm" },
                { name: "uncertaintyUm", label: "its U (k = 2)", kind: "number", unit: "µm" },
              ]}
              action={createSettingRingAction}
              submit="Add the ring"
              done="Added."
            />
          ) : null}
        </section>
        <section>
          <SectionHeading aside="the newest of each gauge counts">Calibrations</SectionHeading>
          <DataTable
            caption="Calibrations"
            captionHidden
            rowHead="gauge"
            columns={[
              { key: "gauge", label: "gauge", kind: "code", cell: (one) => one.gauge },
              { key: "at", label: "calibrated", cell: (one) => day(one.at) },
              { key: "due", label: "due", cell: (one) => day(one.dueAt) },
              {
                key: "bias",
                label: "bias",
                kind: "numeric",
                cell: (one) => (one.biasUm === null ? "not stated" : withUnit(formatFixed(one.biasUm, 1), "µm")),
              },
              { key: "certificate", label: "certificate", kind: "code", cell: (one) => one.certificate ?? "none" },
            ]}
            rows={gauges.flatMap(({ key, calibrations }) => calibrations.map((one) => ({ ...one, gauge: key })))}
            rowKey={(one, place) => `${one.gauge} ${place}`}
            empty={<EmptyState title="No calibration yet">Enter the certificate of each gauge.</EmptyState>}
          />
          {manages ? (
            <EntryForm
              inline
              fields={[
                {
                  name: "gauge",
                  label: "gauge",
                  kind: "choice",
                  options: gauges
                    .filter(({ inUse }) => inUse)
                    .map(({ key, name }) => ({ value: key, label: `${key}, ${name}` })),
                },
                ...CALIBRATION_FIELDS,
              ]}
              action={addCalibrationAction}
              submit="Enter the calibration"
              done={CALIBRATION_DONE}
            />
          ) : null}
        </section>
      </div>
    </SetupPage>
  );
}
