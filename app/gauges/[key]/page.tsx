import type { Metadata } from "next";
import Link from "next/link";
import { notFound } from "next/navigation";
import { zeroCheckChart } from "@/lib/charts/zero-check-chart";
import { calibrationInForce } from "@/lib/core/metrology/calibration-in-force";
import { AppError } from "@/lib/errors";
import { formatDay, formatMoment } from "@/lib/format/date-text";
import { gaugeHeadline, gaugeReasonText, gaugeStateStops, zeroErrorText } from "@/lib/format/gauge-words";
import { formatCount, formatFixed, formatMm, formatSigned, withUnit } from "@/lib/format/number-text";
import { ZERO_CHECK_OCCASIONS } from "@/lib/schemas/gauge";
import { mayDo } from "@/lib/server/auth/permissions";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import { getGaugePage, type GaugePage, type StandingGauge } from "@/lib/server/gauges/gauge-standing";
import { traceGauge, type GaugeTrace } from "@/lib/server/gauges/queries";
import { ChartCanvas } from "@/lib/ui/chart-canvas";
import { DataTable } from "@/lib/ui/data-table";
import { EmptyState } from "@/lib/ui/empty-state";
import { EntryForm } from "@/lib/ui/entry-form";
import { KeyValues } from "@/lib/ui/key-values";
import { ActionPanel, PageFrame, PageHead, SectionHeading } from "@/lib/ui/page-frame";
import { TitleBlock } from "@/lib/ui/title-block";
import { addressPart } from "../../_components/address-part";
import { JournalLink } from "../../_components/journal-link";
import { requireViewer, WorkPage } from "../../_components/work-page";
import { GaugeStateMark } from "../_components/gauge-state-mark";
import { recordZeroCheckAction } from "../actions";
import styles from "../gauges.module.css";
import { GAUGE_WORDS } from "../words";

const words = GAUGE_WORDS.page;

export const metadata: Metadata = { title: GAUGE_WORDS.list.title };

const micrometres = (value: number, digits: number) => withUnit(formatFixed(value, digits), "µm");
const TONE = { "in-use": "ok", "in-doubt": "signal", quarantined: "no", retired: "blue" } as const;
/** Checks listed under the chart; the chart and its numbers have more. */
const MOST_LISTED = 20;

function Checks({ page, zone, mayExport }: Readonly<{ page: GaugePage; zone: string; mayExport: boolean }>) {
  const { gauge, checks, limitUm, doubts } = page;
  if (limitUm === null || checks.length === 0)
    return <EmptyState title={words.noChecks}>{limitUm === null ? words.noRing : words.showRing}</EmptyState>;
  const failed = checks.filter(({ driftUm, limitUm: limit }) => Math.abs(driftUm) > limit).length;
  const spec = zeroCheckChart({
    checks: checks.map(({ at, driftUm, limitUm: limit }) => ({
      atMs: Date.parse(at),
      driftUm,
      limitUm: limit,
      text: formatMoment(at, { zone }),
    })),
    calibrations: gauge.calibrations.map(({ at, biasUm }) => ({ atMs: Date.parse(at), biasUm })),
    doubts,
    limitUm,
    nowMs: Date.parse(page.now),
    zone,
  });
  return (
    <>
      <div className={styles.chart}>
        <ChartCanvas
          spec={spec}
          title={words.chartTitle}
          finding={words.chartFinding}
          alternative={words.alternative(checks.length, failed, micrometres(limitUm, 2))}
          fileName={words.chartFile(gauge.key)}
          mayExport={mayExport}
        />
      </div>
      <section>
        <SectionHeading aside={words.newestFirst}>{words.checks}</SectionHeading>
        <DataTable
          caption={words.checks}
          captionHidden
          rowHead="at"
          columns={[
            { key: "at", label: words.at, cell: ({ at }) => formatMoment(at, { zone }) },
            { key: "ring", label: words.ring, kind: "code", cell: ({ ring }) => ring },
            {
              key: "read",
              label: words.reading,
              kind: "numeric",
              cell: ({ readingMm }) => formatMm(readingMm, 0.0001),
            },
            {
              key: "error",
              label: words.error,
              kind: "numeric",
              cell: ({ driftUm }) => withUnit(formatSigned(driftUm, 1), "µm"),
            },
            { key: "limit", label: words.limit, kind: "numeric", cell: (one) => micrometres(one.limitUm, 2) },
            {
              key: "result",
              label: words.result,
              cell: (one) => (Math.abs(one.driftUm) <= one.limitUm ? words.passed : words.failed),
            },
            { key: "who", label: words.who, cell: ({ person }) => person ?? words.unknown },
          ]}
          rows={checks.slice(-MOST_LISTED).reverse()}
          rowKey={({ at }, place) => `${at} ${place}`}
        />
      </section>
    </>
  );
}

function Calibrations({ gauge, now, zone }: Readonly<{ gauge: StandingGauge; now: string; zone: string }>) {
  const spans = gauge.calibrations.map((one) => ({ ...one, atMs: Date.parse(one.at), dueMs: Date.parse(one.dueAt) }));
  const nowMs = Date.parse(now);
  const inForce = calibrationInForce(spans, nowMs);
  return (
    <section>
      <SectionHeading>{words.calibrations}</SectionHeading>
      <p className={styles.note}>{words.rule}</p>
      <DataTable
        caption={words.calibrations}
        captionHidden
        rowHead="at"
        columns={[
          { key: "at", label: words.calibrated, cell: ({ at }) => formatDay(at, { zone }) },
          { key: "due", label: words.due, cell: ({ dueAt }) => formatDay(dueAt, { zone }) },
          {
            key: "standing",
            label: words.standing,
            cell: (one) => (one !== inForce ? words.earlier : one.dueMs < nowMs ? words.over : words.counts),
          },
          {
            key: "bias",
            label: words.bias,
            kind: "numeric",
            cell: ({ biasUm }) => (biasUm === null ? words.notStated : withUnit(formatSigned(biasUm, 1), "µm")),
          },
          { key: "certificate", label: words.certificate, kind: "code", cell: (one) => one.certificate ?? words.none },
        ]}
        rows={spans}
        rowKey={({ at }, place) => `${at} ${place}`}
        empty={<EmptyState title={words.noCalibration}>{words.enterCertificate}</EmptyState>}
      />
    </section>
  );
}

function Resting({ trace, zone }: Readonly<{ trace: GaugeTrace; zone: string }>) {
  const { resting, escapes, from, gauge } = trace;
  const held = resting.batches.reduce((sum, batch) => sum + batch.held, 0);
  const since = from === null ? "" : `&from=${encodeURIComponent(from)}`;
  return (
    <section>
      <SectionHeading aside={from === null ? words.sinceEver : words.sinceLastGood(formatMoment(from, { zone }))}>
        {words.restsOn}
      </SectionHeading>
      <KeyValues
        pairs={[
          { label: words.framesShipped, value: formatCount(resting.shipped) },
          {
            label: words.framesInHouse,
            note: words.inBatches(resting.batches.length),
            value: formatCount(resting.frames - resting.shipped),
          },
          { label: words.framesHeld, value: formatCount(held) },
          { label: words.openEscapes, value: formatCount(escapes) },
        ]}
      />
      <p>
        <Link href={`/gauges/trace?of=gauge&key=${encodeURIComponent(gauge)}${since}`}>{words.traceBack}</Link>
      </p>
    </section>
  );
}

function WhatToDo({ viewer, page }: Readonly<{ viewer: PersonViewer; page: GaugePage }>) {
  const { gauge, limitUm } = page;
  const reasons = gauge.reasons.map((reason) => gaugeReasonText(reason, viewer.plantZone));
  return (
    <>
      <ActionPanel tone={TONE[gauge.state]} title={words.whatToDo[gauge.state]}>
        {reasons.length === 0 ? null : (
          <ul>
            {reasons.map((reason) => (
              <li key={reason}>{reason}</li>
            ))}
          </ul>
        )}
        {mayDo(viewer, "gauges.manage") ? (
          <Link href={`/setup/gauges/${encodeURIComponent(gauge.key)}`}>{words.change}</Link>
        ) : null}
      </ActionPanel>
      <section>
        <SectionHeading>{words.stops}</SectionHeading>
        <p>{gaugeStateStops(gauge.state)}</p>
      </section>
      {limitUm !== null && gauge.inUse && mayDo(viewer, "line.zero-check") ? (
        <section>
          <SectionHeading>{words.enterCheck}</SectionHeading>
          <EntryForm
            fields={[
              { name: "gauge", label: "", kind: "hidden", value: gauge.key },
              {
                name: "readingMm",
                label: words.sizeShown,
                kind: "number",
                unit: "mm",
                ...(gauge.ringMm === null ? {} : { hint: `${gauge.ring}: ${formatMm(gauge.ringMm, 0.0001)}` }),
              },
              {
                name: "occasion",
                label: words.occasionLabel,
                kind: "choice",
                options: ZERO_CHECK_OCCASIONS.map((value) => ({ value, label: value })),
              },
            ]}
            action={recordZeroCheckAction}
            submit={words.enter}
            done={words.checkDone}
          />
        </section>
      ) : null}
    </>
  );
}

/** The gauge of an address, or the page that says that there is none. */
async function pageOf(viewer: PersonViewer, key: string): Promise<GaugePage> {
  try {
    return await getGaugePage(viewer, key);
  } catch (error) {
    if (error instanceof AppError && error.code === "not-found") notFound();
    throw error;
  }
}

export default async function GaugePageOf({ params }: PageProps<"/gauges/[key]">) {
  const { key: encoded } = await params;
  const viewer = await requireViewer(`/gauges/${encoded}`, "gauges.view");
  const { plantZone: zone } = viewer;
  const key = addressPart(encoded);
  const page = await pageOf(viewer, key);
  const trace = await traceGauge(viewer, key);
  const { gauge, limitUm, checks } = page;
  const newest = checks.at(-1);
  const isFelt = gauge.kind === "plug" || gauge.kind === "bar";
  const lead = [
    gauge.name,
    ...(newest === undefined ? [] : [`${formatMoment(newest.at, { zone })}: ${zeroErrorText(newest.driftUm)}`]),
  ].join(". ");
  return (
    <WorkPage viewer={viewer} current="gauges">
      <PageFrame
        head={
          <PageHead
            title={gaugeHeadline(gauge.key, gauge.state, gauge.reasons, zone)}
            lead={lead}
            status={<GaugeStateMark state={gauge.state} />}
          />
        }
        titleBlock={
          <TitleBlock
            cells={[
              { label: words.block.gauge, value: `${gauge.key}, ${gauge.kind}, ${gauge.principle}` },
              { label: words.block.resolution, value: isFelt ? words.block.felt : micrometres(gauge.resolutionUm, 1) },
              {
                label: words.block.repeatability,
                value: gauge.repeatabilityUm === null ? words.block.notEntered : micrometres(gauge.repeatabilityUm, 2),
              },
              {
                label: words.block.limit,
                value: limitUm === null ? words.block.noLimit : `±${micrometres(limitUm, 2)}`,
              },
              {
                label: words.block.until,
                value: gauge.calibrations[0] ? formatDay(gauge.calibrations[0].dueAt, { zone }) : words.block.never,
              },
              { label: words.block.asOf, value: formatMoment(page.now, { zone }) },
            ]}
          />
        }
      >
        <div className={styles.columns}>
          <div className={styles.main}>
            <Checks page={page} zone={zone} mayExport={mayDo(viewer, "records.export")} />
            <Calibrations gauge={gauge} now={page.now} zone={zone} />
            <JournalLink viewer={viewer} name={gauge.key} />
          </div>
          <div className={styles.side}>
            <WhatToDo viewer={viewer} page={page} />
            <Resting trace={trace} zone={zone} />
          </div>
        </div>
      </PageFrame>
    </WorkPage>
  );
}
