import type { Metadata } from "next";
import Link from "next/link";
import { notFound } from "next/navigation";
import { Suspense } from "react";
import { z } from "zod";
import { AppError } from "@/lib/errors";
import { formatDay, formatMoment } from "@/lib/format/date-text";
import { USUAL_FORM_RUN_LENGTH } from "@/lib/core/control/charts/form-ewma";
import { formatCount, formatCounted } from "@/lib/format/number-text";
import { findingHeadline, findingSentence, RULE_SET_WORDS, ruleWords, streamName } from "@/lib/format/stream-words";
import { mayDo } from "@/lib/server/auth/permissions";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import { runLengthOf } from "@/lib/server/drift/capability-queries";
import { getStream, type StreamPage } from "@/lib/server/drift/queries";
import { ChartCanvas } from "@/lib/ui/chart-canvas";
import { EmptyState } from "@/lib/ui/empty-state";
import { PageFrame, PageHead, SectionHeading } from "@/lib/ui/page-frame";
import { StateMark } from "@/lib/ui/state-mark";
import { TitleBlock } from "@/lib/ui/title-block";
import { requireViewer, WorkPage } from "../../../_components/work-page";
import { LiveRefresh } from "../../_components/live-refresh";
import { CapabilityPanel } from "./_components/capability-panel";
import { StreamPaper } from "../../_components/stream-paper";
import { EventForm } from "../../events/_components/event-form";
import { LimitsSection } from "./_components/limits-section";
import { LeftOut } from "./_components/left-out";
import { PointTable } from "./_components/point-table";
import { SignalList } from "./_components/signal-list";
import { histogramFigure, probabilityFigure } from "./_components/stream-figures";
import { StreamCharts } from "./_components/stream-charts";
import { readStream } from "./_components/stream-reading";
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

export default async function StreamPageView({ params, searchParams }: PageProps<"/drift/streams/[id]">) {
  const { id } = await params;
  const viewer = await requireViewer(`/drift/streams/${encodeURIComponent(id)}`, "drift.view");
  const { frames, scale } = searchSchema.parse(await searchParams);
  const stream = await findStream(viewer, id, frames);
  const { plantZone: zone } = viewer;
  const reading = readStream(stream);
  const { feature, limits, total, signals } = stream;
  const name = capital(streamName(feature));
  const mayExport = mayDo(viewer, "records.export");
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
                    ? stream.limits?.average
                      ? `one in 740 frames by the limit, in ${formatCount(USUAL_FORM_RUN_LENGTH)} by the mean`
                      : "one in about 740 frames"
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
              <StreamCharts
                mayExport={mayExport}
                stream={stream}
                reading={reading}
                zone={zone}
                nearLimits={scale === "control"}
                frames={frames}
              />
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
                      mayExport={mayExport}
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
                    <SectionHeading
                      aside={<Link href={`/drift/events?line=${encodeURIComponent(stream.line)}`}>All events</Link>}
                    >
                      Enter an event
                    </SectionHeading>
                    <EventForm lines={[{ id: stream.lineId, key: stream.line }]} />
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
                      mayExport={mayExport}
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
            <LeftOut leftOut={stream.leftOut} />
            <PointTable stream={stream} reading={reading} zone={zone} frames={frames} mayExport={mayExport} />
            {mayExport ? <StreamPaper streamId={stream.id} frames={stream.points.length} /> : null}
          </>
        )}
      </PageFrame>
    </WorkPage>
  );
}
