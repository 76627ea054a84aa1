import type { Metadata } from "next";
import Link from "next/link";
import { formatDay } from "@/lib/format/date-text";
import { gaugeReasonText } from "@/lib/format/gauge-words";
import { GAUGE_STATES } from "@/lib/quality/gauge-state";
import { listStandingGauges, type StandingGauge } from "@/lib/server/gauges/gauge-standing";
import { DataTable } from "@/lib/ui/data-table";
import { EmptyState } from "@/lib/ui/empty-state";
import { PageFrame, PageHead } from "@/lib/ui/page-frame";
import { requireViewer, WorkPage } from "../_components/work-page";
import { GaugeStateMark } from "./_components/gauge-state-mark";
import styles from "./gauges.module.css";
import { GAUGE_WORDS } from "./words";

const words = GAUGE_WORDS.list;

export const metadata: Metadata = { title: words.title };

/** Those that need somebody first, retired ones last. */
const ORDER = ["in-doubt", "quarantined", "in-use", "retired"] as const satisfies
  typeof GAUGE_STATES | readonly string[];

function whyText({ reasons, calibrations }: StandingGauge, zone: string): string {
  if (reasons.length > 0) return reasons.map((reason) => gaugeReasonText(reason, zone)).join("; ");
  return calibrations[0] === undefined ? "" : words.calibratedUntil(formatDay(calibrations[0].dueAt, { zone }));
}

export default async function GaugesPage() {
  const viewer = await requireViewer("/gauges", "gauges.view");
  const { plantZone: zone } = viewer;
  const gauges = [...(await listStandingGauges(viewer))].sort(
    (a, b) => ORDER.indexOf(a.state) - ORDER.indexOf(b.state),
  );
  const loud = gauges.filter(({ state }) => state === "in-doubt" || state === "quarantined").length;
  return (
    <WorkPage viewer={viewer} current="gauges">
      <PageFrame
        head={
          <PageHead
            title={loud === 0 ? words.allRight : words.needYou(loud)}
            lead={words.lead}
            status={
              <span className={styles.links}>
                <Link href="/gauges/trace">{words.traceBack}</Link>
                <Link href="/gauges/studies">{words.studies}</Link>
                <Link href="/setup/gauges">{words.register}</Link>
              </span>
            }
          />
        }
      >
        <DataTable
          caption={words.title}
          captionHidden
          rowHead="key"
          columns={[
            {
              key: "key",
              label: words.gauge,
              kind: "code",
              cell: ({ key }) => <Link href={`/gauges/${encodeURIComponent(key)}`}>{key}</Link>,
            },
            { key: "state", label: words.state, cell: ({ state }) => <GaugeStateMark state={state} /> },
            { key: "why", label: words.why, cell: (gauge) => whyText(gauge, zone) },
            { key: "name", label: words.name, cell: ({ name }) => name },
            { key: "measures", label: words.measures, cell: ({ kind }) => kind },
            { key: "station", label: words.station, kind: "code", cell: ({ station }) => station ?? words.any },
          ]}
          rows={gauges}
          rowKey={({ key }) => key}
          empty={<EmptyState title={words.noGauge}>{words.enterInSetup}</EmptyState>}
        />
      </PageFrame>
    </WorkPage>
  );
}
