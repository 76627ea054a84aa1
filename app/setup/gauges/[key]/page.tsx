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
import { GAUGE_WORDS } from "../../words/gauges";
import parts from "../../_components/parts.module.css";
import { SetupPage } from "../../_components/setup-page";
import { addCalibrationAction } from "../../actions";
import { CALIBRATION_DONE, CALIBRATION_FIELDS } from "../_components/calibration-fields";
import { measuringFields, zeroLimitText } from "../_components/measuring-fields";
import styles from "../../setup.module.css";
import { changeGaugeAction } from "../actions";

const words = GAUGE_WORDS.gauge;

export const metadata: Metadata = { title: words.gauge };

function Calibrations({ gauge, zone }: Readonly<{ gauge: GaugeItem; zone: string }>) {
  const day = (time: string) => <span className={styles.whole}>{formatDay(time, { zone })}</span>;
  return (
    <DataTable
      caption={words.calibrationsOfGauge}
      captionHidden
      rowHead="at"
      columns={[
        { key: "at", label: words.calibrated, cell: (one) => day(one.at) },
        { key: "due", label: words.due, cell: (one) => day(one.dueAt) },
        {
          key: "bias",
          label: words.bias,
          kind: "numeric",
          cell: (one) => (one.biasUm === null ? words.notStated : withUnit(formatFixed(one.biasUm, 1), "µm")),
        },
        { key: "certificate", label: words.certificate, kind: "code", cell: (one) => one.certificate ?? words.none },
      ]}
      rows={gauge.calibrations}
      rowKey={(one, place) => `${place} ${one.at}`}
      empty={<EmptyState title={words.noCalibrationYet}>{words.enterCertificate}</EmptyState>}
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
    { name: "name", label: words.name, value: gauge.name },
    { name: "resolutionUm", label: words.resolution, kind: "number", unit: "µm", value: String(gauge.resolutionUm) },
    ...measuringFields(gauge),
    {
      name: "ring",
      label: words.settingRing,
      kind: "choice",
      optional: true,
      value: gauge.ring ?? "",
      options: rings
        .filter(({ inUse, key }) => inUse || key === gauge.ring)
        .map((ring) => ({ value: ring.key, label: `${ring.key}, ${formatMm(ring.certifiedSizeMm, 0.0001)}` })),
    },
    {
      name: "station",
      label: words.keptAtStation,
      kind: "choice",
      optional: true,
      hint: words.noneUsedAtAny,
      value: gauge.station ?? "",
      options: stations
        .filter(({ inUse, key }) => inUse || key === gauge.station)
        .map(({ key, name }) => ({ value: key, label: `${key}, ${name}` })),
    },
    inUseField(gauge.inUse, words.lineOffers),
  ];
  return (
    <SetupPage
      viewer={viewer}
      current="gauges"
      title={`${gauge.key}, ${gauge.name}`}
      lead={words.measuresKindAndPrincipleStay(gauge.kind, gauge.principle)}
      status={<Link href="/setup/gauges">{words.allGauges}</Link>}
    >
      <div className={parts.parts}>
        <section>
          <SectionHeading {...(gauge.ring === null ? {} : { aside: zeroLimitText(gauge) })}>
            {words.whatIs}
          </SectionHeading>
          {manages ? (
            <EntryForm
              keep
              kind="go"
              fields={fields}
              action={changeGaugeAction}
              submit={words.save}
              done={words.changedAndRecordedInJournal}
            />
          ) : (
            <EmptyState title={words.engineersChange}>{words.askOne}</EmptyState>
          )}
        </section>
        <section>
          <SectionHeading aside={words.newestOneCounts}>{words.calibrations}</SectionHeading>
          <Calibrations gauge={gauge} zone={zone} />
          <JournalLink viewer={viewer} name={gauge.key} />
          {manages ? (
            <EntryForm
              inline
              fields={[{ name: "gauge", label: "", kind: "hidden", value: gauge.key }, ...CALIBRATION_FIELDS]}
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
