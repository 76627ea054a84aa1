import type { Metadata } from "next";
import Link from "next/link";
import { notFound } from "next/navigation";
import { Suspense } from "react";
import { z } from "zod";
import { AppError } from "@/lib/errors";
import { formatDay, formatMoment } from "@/lib/format/date-text";
import { formatCount, formatCounted } from "@/lib/format/number-text";
import {
  findingHeadline,
  findingSentence,
  formatStreamValue,
  RULE_SET_WORDS,
  ruleWords,
  streamName,
  streamTitle,
} from "@/lib/format/stream-words";
import { mayDo } from "@/lib/server/auth/permissions";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import { runLengthOf } from "@/lib/server/drift/capability-queries";
import { getStream, type StreamPage } from "@/lib/server/drift/queries";
import { getPlantZone } from "@/lib/server/setup/queries";
import { ChartCanvas } from "@/lib/ui/chart-canvas";
import { DataTable } from "@/lib/ui/data-table";
import { EmptyState } from "@/lib/ui/empty-state";
import { PageFrame, PageHead, SectionHeading } from "@/lib/ui/page-frame";
import { StateMark } from "@/lib/ui/state-mark";
import { TitleBlock } from "@/lib/ui/title-block";
import { requireViewer, WorkPage } from "../../../_components/work-page";
import { LiveRefresh } from "../../_components/live-refresh";
import { CapabilityPanel } from "./_components/capability-panel";
import { EventForm } from "./_components/event-form";
import { LimitsForm, type BaselineChoice } from "./_components/limits-form";
import { SignalList } from "./_components/signal-list";
import { histogramFigure, probabilityFigure, streamFigures } from "./_components/stream-figures";
import { readStream, type StreamReading } from "./_components/stream-reading";
import { SuspectRow } from "./_components/suspect-row";
import { ToolLifePanel } from "./_components/tool-life-panel";
import { WhatToDo } from "./_components/what-to-do";
import styles from "./stream.module.css";

const FRAME_CHOICES = [200, 1000, 5000] as const;

const searchSchema = z.object({
  frames: z.coerce
    .number()
    .refine((count) => FRAME_CHOICES.some((choice) => choice === count))
    .catch(200),
  scale: z.enum(["size", "control"]).catch("size"),
});

/** Newest points in the table; the CSV has all that are shown. */
const TABLE_ROWS = 40;

async function findStream(viewer: PersonViewer, id: string, frames: number): Promise<StreamPage> {
  try {
    return await getStream(viewer, id, frames);
  } catch (error) {
    if (error instanceof AppError && error.code === "not-found") notFound();
    throw error;
  }
}

const capital = (text: string) => text.replace(/^[a-z]/, (letter) => letter.toUpperCase());

export const metadata: Metadata = { title: "Stream" };

function Charts({
  stream,
  reading,
  zone,
  nearLimits,
  frames,
}: Readonly<{ stream: StreamPage; reading: StreamReading; zone: string; nearLimits: boolean; frames: number }>) {
  const figures = streamFigures(stream, reading, { zone, nearLimits });
  const name = `${stream.line}-${stream.feature}`;
  const headline = findingHeadline(reading.finding, stream.feature, reading.numberOf);
  const flagged = stream.signals.filter((signal) => signal.state === "open").length;
  const alternative = `${capital(headline)}. ${formatCounted(stream.points.length, "frame")} shown, ${formatCounted(flagged, "open signal")}.`;
  return (
    <div className={styles.charts}>
      <ChartCanvas
        spec={figures.main}
        title={streamTitle(stream.feature)}
        finding={stream.kind === "individuals" ? "each point one frame; individuals chart" : "each point one frame"}
        alternative={alternative}
        fileName={name}
        csvHref={`/drift/streams/${stream.id}/points?frames=${frames}`}
      />
      {figures.movingRange ? (
        <ChartCanvas
          spec={figures.movingRange}
          title="Moving range, µm"
          finding="from frame to frame"
          alternative="Differences of neighbouring frames against their limit."
          size="small"
          fileName={`${name}-moving-range`}
          tools={false}
        />
      ) : null}
      {figures.spread ? (
        <ChartCanvas
          spec={figures.spread}
          title="Spread within the bore, µm"
          finding="largest minus smallest diameter of each frame"
          alternative="Range of the diameters within one bore against its limit."
          size="small"
          fileName={`${name}-spread`}
          tools={false}
        />
      ) : null}
      <SuspectRow suspects={reading.suspects} />
    </div>
  );
}

function baselineChoices(stream: StreamPage, reading: StreamReading, zone: string): BaselineChoice[] {
  const { points, events } = stream;
  const last = points.at(-1);
  const since = events
    .map((event) => ({ event, frames: points.filter((point) => point.at >= Date.parse(event.at)).length }))
    .filter(({ frames }) => frames >= 100)
    .at(-1);
  return [
    { key: "newest", label: "newest 100 frames", detail: "without those with an assigned cause" },
    ...(since === undefined
      ? []
      : [
          {
            key: "event",
            label: `since: ${since.event.kind}`,
            detail: `${formatCounted(since.frames, "frame")}, from ${formatMoment(since.event.at, { zone })}`,
            from: since.event.at,
          },
        ]),
    ...(points[0] === undefined || last === undefined
      ? []
      : [
          {
            key: "shown",
            label: `the ${formatCounted(points.length, "frame")} shown`,
            detail: `frames ${reading.firstNumber} to ${stream.total}`,
            from: new Date(points[0].at).toISOString(),
            to: new Date(last.at).toISOString(),
          },
        ]),
  ];
}

function LimitsSection({
  stream,
  reading,
  zone,
  mayApprove,
}: Readonly<{ stream: StreamPage; reading: StreamReading; zone: string; mayApprove: boolean }>) {
  const { limits } = stream;
  const run = limits === null ? null : runLengthOf(stream.kind, limits.frames);
  return (
    <section>
      <SectionHeading aside={limits === null ? undefined : `version ${limits.version}`}>Control limits</SectionHeading>
      {limits === null ? (
        <p className={styles.refusal}>
          None yet: limits are provisional from 25 frames on and can be approved from 100. The stream has {stream.total}
          .
        </p>
      ) : (
        <>
          <p className={styles.refusal}>
            {limits.lower === null ? "" : `${formatStreamValue(limits.lower, stream.feature)} to `}
            {limits.upper === null ? "" : formatStreamValue(limits.upper, stream.feature)}: {limits.method}, from{" "}
            {formatCounted(limits.frames, "frame")}, {formatDay(limits.baselineFrom, { zone })} to{" "}
            {formatDay(limits.baselineTo, { zone })}.{" "}
            {limits.approvedAt === null
              ? limits.provisional
                ? "Provisional, nobody has approved them."
                : "Nobody has approved them."
              : `Approved by ${limits.approvedBy ?? "somebody"} on ${formatDay(limits.approvedAt, { zone })}.`}
          </p>
          <p className={styles.note}>
            {run === null
              ? "A false alarm in about 740 frames where the fitted distribution holds; the fewer frames it was fitted to, the less sure that is."
              : `A false alarm in ${Math.round(run.lower)} to ${Math.round(run.upper)} frames while nothing changes (90 %, since the limits are estimated); ${Math.round(run.nominal)} with limits that are known.`}
          </p>
        </>
      )}
      {mayApprove ? <LimitsForm streamId={stream.id} choices={baselineChoices(stream, reading, zone)} /> : null}
    </section>
  );
}

function PointTable({
  stream,
  reading,
  zone,
  frames,
}: Readonly<{ stream: StreamPage; reading: StreamReading; zone: string; frames: number }>) {
  const signals = new Map<string, string>();
  for (const signal of stream.signals) signals.set(signal.inspectionId, ruleWords(signal.rule, signal.side));
  const shown = stream.points.map((point, index) => ({ point, number: reading.numberOf(index) })).slice(-TABLE_ROWS);
  return (
    <section>
      <DataTable
        caption="Newest points"
        rowHead="serial"
        columns={[
          { key: "frame", label: "frame", kind: "numeric" },
          { key: "serial", label: "serial", kind: "code" },
          { key: "value", label: streamName(stream.feature), kind: "numeric" },
          { key: "verdict", label: "verdict of the frame" },
          { key: "signal", label: "signal" },
          { key: "tool", label: "reamer", kind: "code" },
          { key: "fixture", label: "fixture", kind: "code" },
          { key: "at", label: "measured" },
        ]}
        rows={shown.toReversed().map(({ point, number }) => ({
          key: point.inspectionId,
          cells: {
            frame: String(number),
            serial: <Link href={`/frames/${encodeURIComponent(point.serial)}`}>{point.serial}</Link>,
            value: formatStreamValue(point.value, stream.feature),
            verdict: point.verdict,
            signal: signals.get(point.inspectionId) ?? "",
            tool: point.tool ?? "",
            fixture: point.fixture ?? "",
            at: formatMoment(point.at, { zone }),
          },
        }))}
        count={`${shown.length} of ${formatCounted(stream.points.length, "frame")} shown`}
        csvHref={`/drift/streams/${stream.id}/points?frames=${frames}`}
      />
    </section>
  );
}

export default async function StreamPageView({ params, searchParams }: PageProps<"/drift/streams/[id]">) {
  const { id } = await params;
  const viewer = await requireViewer(`/drift/streams/${encodeURIComponent(id)}`);
  const { frames, scale } = searchSchema.parse(await searchParams);
  const [stream, zone] = await Promise.all([findStream(viewer, id, frames), getPlantZone(viewer)]);
  const reading = readStream(stream);
  const { feature, limits, total, signals } = stream;
  const name = capital(streamName(feature));
  const mayAssign = mayDo(viewer, "drift.assign-cause");
  const mayEnter = mayDo(viewer, "drift.add-event");
  const histogram = histogramFigure(stream, reading);
  const probability = probabilityFigure(stream);
  const place = new Map(stream.points.map((point, index) => [point.inspectionId, index]));
  const run = limits === null ? null : runLengthOf(stream.kind, limits.frames);
  const href = (change: Partial<{ frames: number; scale: string }>) =>
    `/drift/streams/${stream.id}?${new URLSearchParams({ frames: String(change.frames ?? frames), scale: change.scale ?? scale })}`;
  return (
    <WorkPage viewer={viewer} current="drift">
      <PageFrame
        head={
          <PageHead
            title={`${name}, ${stream.line}: ${findingHeadline(reading.finding, feature, reading.numberOf)}`}
            lead={findingSentence(reading.finding, feature, reading.numberOf)}
            status={
              <span className={styles.status}>
                {stream.openSignals > 0 ? (
                  <StateMark state="signal" word={formatCounted(stream.openSignals, "open signal")} />
                ) : null}
                <LiveRefresh zone={zone} lineId={stream.lineId} />
              </span>
            }
          />
        }
        titleBlock={
          <TitleBlock
            cells={[
              { label: "stream", value: `${stream.line}, ${streamName(feature)}, ${stream.operationName}` },
              { label: "drawing", value: `${stream.drawing.key}, revision ${stream.drawing.revision}` },
              {
                label: "limit set",
                value:
                  limits === null
                    ? "none yet"
                    : `${limits.version}, ${limits.approvedBy ?? (limits.provisional ? "provisional" : "not approved")}, ${formatDay(limits.approvedAt ?? limits.createdAt, { zone })}`,
              },
              { label: "run rules", value: RULE_SET_WORDS[stream.kind] },
              {
                label: "false alarms",
                value:
                  run === null
                    ? "one in about 740 frames"
                    : `one in ${Math.round(run.lower)} to ${Math.round(run.upper)} frames`,
              },
              { label: "frames", value: `${reading.firstNumber} to ${formatCount(total)}` },
            ]}
          />
        }
      >
        {stream.points.length === 0 ? (
          <EmptyState title="No frame of this stream counts any more">
            Its inspections were withdrawn. The stream goes on with the next frame.
          </EmptyState>
        ) : (
          <>
            <nav className={styles.view} aria-label="What the chart shows">
              {FRAME_CHOICES.filter((choice, index) => index === 0 || total > (FRAME_CHOICES[index - 1] ?? 0)).map(
                (choice) => (
                  <Link
                    key={choice}
                    href={href({ frames: choice })}
                    aria-current={frames === choice ? "page" : undefined}
                  >
                    newest {formatCount(choice)}
                  </Link>
                ),
              )}
              <span aria-hidden="true">·</span>
              {stream.tolerance === null || limits === null ? null : (
                <>
                  <Link href={href({ scale: "size" })} aria-current={scale === "size" ? "page" : undefined}>
                    with the limits of the drawing
                  </Link>
                  <Link href={href({ scale: "control" })} aria-current={scale === "control" ? "page" : undefined}>
                    control limits only
                  </Link>
                </>
              )}
            </nav>
            <div className={styles.columns}>
              <Charts stream={stream} reading={reading} zone={zone} nearLimits={scale === "control"} frames={frames} />
              <div className={styles.side}>
                <WhatToDo stream={stream} reading={reading} zone={zone} mayAssign={mayAssign} mayEnter={mayEnter} />
                <ToolLifePanel life={reading.toolLife} tool={reading.tool} />
                {histogram ? (
                  <section>
                    <SectionHeading aside="frames by value">
                      {stream.baseline.length > 1 ? "Baseline and now" : "Frames shown"}
                    </SectionHeading>
                    <ChartCanvas
                      spec={histogram}
                      title=""
                      alternative="Histogram of the baseline with its fitted curve, and of the frames since, against the limits."
                      size="small"
                      fileName={`${stream.line}-${feature}-histogram`}
                      tools={false}
                    />
                    <p className={styles.note}>
                      blue: baseline and fitted curve
                      {stream.baseline.length > 1
                        ? `; outline: ${reading.finding.kind === "moved" ? `since frame ${reading.numberOf(reading.finding.since)}` : "newest 100"}, to the same number`
                        : ""}
                    </p>
                  </section>
                ) : null}
                <Suspense fallback={<p className={styles.note}>Computing the capability</p>}>
                  <CapabilityPanel viewer={viewer} id={stream.id} />
                </Suspense>
              </div>
            </div>
            <div className={styles.below}>
              <div>
                <section id="signals">
                  <SectionHeading aside={formatCounted(signals.length, "signal", "signals in the frames shown")}>
                    Signals
                  </SectionHeading>
                  {signals.length === 0 ? (
                    <p className={styles.refusal}>None in the frames shown.</p>
                  ) : (
                    <SignalList
                      key={stream.openSignals}
                      mayAssign={mayAssign}
                      suggestions={stream.events.slice(-5).map((event) => event.text)}
                      signals={signals.toReversed().map((signal) => ({
                        id: signal.id,
                        words: ruleWords(signal.rule, signal.side),
                        serial: signal.serial,
                        frame: place.has(signal.inspectionId)
                          ? reading.numberOf(place.get(signal.inspectionId) ?? 0)
                          : null,
                        moment: formatMoment(signal.at, { zone }),
                        open: signal.state === "open",
                        cause: signal.cause,
                        assignedBy: signal.assignedBy,
                      }))}
                    />
                  )}
                </section>
                {mayEnter ? (
                  <section id="event">
                    <SectionHeading aside="stands on the time axis">Enter an event</SectionHeading>
                    <EventForm lineId={stream.lineId} line={stream.line} />
                  </section>
                ) : null}
              </div>
              <div>
                <LimitsSection
                  stream={stream}
                  reading={reading}
                  zone={zone}
                  mayApprove={mayDo(viewer, "drift.approve-limits")}
                />
                {probability ? (
                  <section>
                    <SectionHeading aside="on the line where the distribution fits">Probability plot</SectionHeading>
                    <ChartCanvas
                      spec={probability}
                      title=""
                      alternative="Ordered values against the quantiles of the fitted distribution."
                      size="medium"
                      fileName={`${stream.line}-${feature}-probability`}
                      tools={false}
                    />
                  </section>
                ) : null}
                <section>
                  <SectionHeading>Other streams of these frames</SectionHeading>
                  <p className={styles.siblings}>
                    {stream.siblings.map((sibling) => (
                      <Link
                        key={sibling.id}
                        href={`/drift/streams/${sibling.id}`}
                        aria-current={sibling.id === stream.id ? "page" : undefined}
                      >
                        {streamName(sibling.feature)}
                        {sibling.openSignals > 0 ? ` (${sibling.openSignals})` : ""}
                      </Link>
                    ))}
                    <Link
                      href={`/drift/target/${encodeURIComponent(stream.line)}?operation=${encodeURIComponent(stream.operation)}`}
                    >
                      NDS offset, as a target
                    </Link>
                  </p>
                </section>
              </div>
            </div>
            <PointTable stream={stream} reading={reading} zone={zone} frames={frames} />
          </>
        )}
      </PageFrame>
    </WorkPage>
  );
}
