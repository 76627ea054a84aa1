import { addressPart } from "@/app/_components/address-part";
import type { Metadata } from "next";
import Link from "next/link";
import { notFound } from "next/navigation";
import { formatDay } from "@/lib/format/date-text";
import { formatFixed, formatMm, withUnit } from "@/lib/format/number-text";
import { mayDo } from "@/lib/server/auth/permissions";
import { getSetupOverview } from "@/lib/server/plant/queries";
import { listGauges, listRings, type GaugeItem } from "@/lib/server/gauges/register";
import { DataTable } from "@/lib/ui/data-table";
import { EmptyState } from "@/lib/ui/empty-state";
import { SectionHeading } from "@/lib/ui/page-frame";
import { JournalLink } from "../../../_components/journal-link";
import { requireViewer } from "../../../_components/work-page";
import { EntryForm, type EntryField } from "@/lib/ui/entry-form";
import { inUseField, versionField } from "../../_components/in-use";
import parts from "../../_components/parts.module.css";
import { SetupPage } from "../../_components/setup-page";
import { addCalibrationAction } from "../../actions";
import { CALIBRATION_DONE, CALIBRATION_FIELDS } from "../_components/calibration-fields";
import { measuringFields, zeroLimitText } from "../_components/measuring-fields";
import styles from "../../setup.module.css";
import { changeGaugeAction } from "../actions";

export const metadata: Metadata = { title: "Gauge" };

function Calibrations({ gauge, zone }: Readonly<{ gauge: GaugeItem; zone: string }>) {
  const day = (time: string) => <span className={styles.whole}>{formatDay(time, { zone })}</span>;
  return (
    <DataTable
      caption="Calibrations of the gauge"
      captionHidden
      rowHead="at"
      columns={[
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
      rows={gauge.calibrations}
      rowKey={(one, place) => `${place} ${one.at}`}
      empty={<EmptyState title="No calibration yet">Enter its certificate.</EmptyState>}
    />
  );
}

export default async function GaugePage({ params }: PageProps<"/setup/gauges/[key]">) {
  const { key: encoded } = await params;
  const viewer = await requireViewer(`/setup/gauges/${encoded}`, "gauges.view");
  const { plantZone: zone } = viewer;
  const [gauges, rings, overview] = await Promise.all([
    listGauges(viewer),
    listRings(viewer),
    getSetupOverview(viewer),
  ]);
  const gauge = gauges.find(({ key }) => key === addressPart(encoded));
  if (!gauge) notFound();
  const manages = mayDo(viewer, "gauges.manage");
  const stations = overview.lines.flatMap((line) =>
    line.stations.map((one) => ({ ...one, inUse: one.inUse && line.inUse })),
  );
  const fields: EntryField[] = [
    { name: "key", label: "", kind: "hidden", value: gauge.key },
    versionField(gauge.version),
    { name: "name", label: "name", value: gauge.name },
    { name: "resolutionUm", label: "resolution", kind: "number", unit: "µm", value: String(gauge.resolutionUm) },
    ...measuringFields(gauge),
    {
      name: "ring",
      label: "setting ring",
      kind: "choice",
      optional: true,
      value: gauge.ring ?? "",
      options: rings
        .filter(({ inUse, key }) => inUse || key === gauge.ring)
        .map((ring) => ({ value: ring.key, label: `${ring.key}, ${formatMm(ring.certifiedSizeMm, 0.0001)}` })),
    },
    {
      name: "station",
      label: "kept at station",
      kind: "choice",
      optional: true,
      hint: "none: used at any",
      value: gauge.station ?? "",
      options: stations
        .filter(({ inUse, key }) => inUse || key === gauge.station)
        .map(({ key, name }) => ({ value: key, label: `${key}, ${name}` })),
    },
    inUseField(gauge.inUse, "Line offers it"),
  ];
  return (
    <SetupPage
      viewer={viewer}
      current="gauges"
      title={`${gauge.key}, ${gauge.name}`}
      lead={`Measures ${gauge.kind}, ${gauge.principle}. Kind and principle stay: another one is another gauge.`}
      status={<Link href="/setup/gauges">All gauges</Link>}
    >
      <div className={parts.parts}>
        <section>
          <SectionHeading {...(gauge.ring === null ? {} : { aside: zeroLimitText(gauge) })}>What it is</SectionHeading>
          {manages ? (
            <EntryForm
              keep
              kind="go"
              fields={fields}
              action={changeGaugeAction}
              submit="Save"
              done="Changed, and recorded in the journal."
            />
          ) : (
            <EmptyState title="Engineers change this">Ask one, or a person with that role.</EmptyState>
          )}
        </section>
        <section>
          <SectionHeading aside="the newest one counts">Calibrations</SectionHeading>
          <Calibrations gauge={gauge} zone={zone} />
          <JournalLink viewer={viewer} name={gauge.key} />
          {manages ? (
            <EntryForm
              inline
              fields={[{ name: "gauge", label: "", kind: "hidden", value: gauge.key }, ...CALIBRATION_FIELDS]}
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
