import type { Metadata } from "next";
import Link from "next/link";
import { notFound } from "next/navigation";
import { Suspense } from "react";
import { z } from "zod";
import { AppError } from "@/lib/errors";
import { formatDay } from "@/lib/format/date-text";
import { formatCount } from "@/lib/format/number-text";
import { standingHeadline, standingSentence } from "@/lib/format/standing-words";
import { streamName } from "@/lib/format/stream-words";
import { FINDING_FRAMES } from "@/lib/quality/stream-finding";
import { isInControl } from "@/lib/quality/stream-standing";
import { mayDo } from "@/lib/server/auth/permissions";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import { readStreamScheme } from "@/lib/server/cases/stream-scheme";
import { getStream, type StreamPage } from "@/lib/server/drift/queries";
import { ChartCanvas } from "@/lib/ui/chart-canvas";
import { EmptyState } from "@/lib/ui/empty-state";
import { PageFrame, PageHead, SectionHeading } from "@/lib/ui/page-frame";
import { StateMark } from "@/lib/ui/state-mark";
import { TitleBlock } from "@/lib/ui/title-block";
import { requireViewer, WorkPage } from "../../../_components/work-page";
import { LiveRefresh } from "../../../_components/live-refresh";
import { CapabilityPanel } from "./_components/capability-panel";
import { StreamPaper } from "../../_components/stream-paper";
import { EventForm } from "../../events/_components/event-form";
import { LimitsSection } from "./_components/limits-section";
import { LeftOut } from "./_components/left-out";
import { PointTable } from "./_components/point-table";
import { CaseList } from "./_components/case-list";
import { EarlierSignals } from "./_components/earlier-signals";
import { histogramFigure, histogramSince, probabilityFigure } from "./_components/stream-figures";
import { StreamCharts } from "./_components/stream-charts";
import { readStream } from "./_components/stream-reading";
import { ToolLifePanel } from "./_components/tool-life-panel";
import { WhatToDo } from "./_components/what-to-do";
import { STREAM_WORDS } from "../words";
import { WHY_WORDS } from "../../why/words";
import styles from "./stream.module.css";

const words = STREAM_WORDS.stream;

const FRAME_CHOICES = [FINDING_FRAMES, 1000, 5000] as const;

const searchSchema = z.object({
  frames: z.coerce
    .number()
    .refine((count) => FRAME_CHOICES.some((choice) => choice === count))
    .catch(FINDING_FRAMES),
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

export const metadata: Metadata = { title: words.stream };

export default async function StreamPageView({ params, searchParams }: PageProps<"/drift/streams/[id]">) {
  const { id } = await params;
  const viewer = await requireViewer(`/drift/streams/${encodeURIComponent(id)}`, "drift.view");
  const { frames, scale } = searchSchema.parse(await searchParams);
  const stream = await findStream(viewer, id, frames);
  const scheme = await readStreamScheme(viewer, stream.id);
  const { plantZone: zone } = viewer;
  const reading = readStream(stream);
  const { feature, limits, total } = stream;
  const openCases = stream.cases.filter(({ state, stands }) => state === "open" && stands).length;
  const name = capital(streamName(feature));
  const mayExport = mayDo(viewer, "records.export");
  const mayEnter = mayDo(viewer, "drift.add-event");
  const histogram = histogramFigure(stream, reading);
  const probability = probabilityFigure(stream);
  const since = histogramSince(stream, reading);
  const href = (change: Partial<{ frames: number; scale: string }>) =>
    `/drift/streams/${stream.id}?${new URLSearchParams({ frames: String(change.frames ?? frames), scale: change.scale ?? scale })}`;
  return (
    <WorkPage viewer={viewer} current="drift">
      <PageFrame
        head={
          <PageHead
            title={`${name}, ${stream.line}: ${standingHeadline(reading.standing, feature, reading.numberOfRecent)}`}
            lead={standingSentence(reading.standing, feature, reading.numberOfRecent)}
            status={
              <span className={styles.status}>
                {isInControl(reading.standing) ? null : (
                  <StateMark state="signal" word={openCases > 0 ? words.openCases(openCases) : words.notInControl} />
                )}
                <LiveRefresh zone={zone} lineId={stream.lineId} />
                <Link href={`/drift/why/${stream.id}`}>{WHY_WORDS.link}</Link>
                <Link href="/drift">{WHY_WORDS.backToDrift}</Link>
              </span>
            }
          />
        }
        titleBlock={
          <TitleBlock
            cells={[
              { label: words.streamLabel, value: `${stream.line}, ${streamName(feature)}, ${stream.operationName}` },
              { label: words.drawing, value: words.revision(stream.drawing.key, stream.drawing.revision) },
              {
                label: words.limitSet,
                value:
                  limits === null
                    ? words.noneYet
                    : `${limits.version}, ${limits.approvedBy ?? (limits.provisional ? "provisional" : words.notApproved)}, ${formatDay(limits.approvedAt ?? limits.createdAt, { zone })}`,
              },
              { label: words.watchedBy, value: scheme === null ? words.noneYet : words.watched[scheme.kind] },
              {
                label: words.falseCases,
                value:
                  scheme === null || scheme.kind === "starting"
                    ? words.noneYet
                    : words.oneIn(formatCount(Math.round(scheme.runLength))),
              },
              { label: words.frames, value: words.toTotal(reading.firstNumber, formatCount(total)) },
            ]}
          />
        }
      >
        {stream.points.length === 0 ? (
          <EmptyState title={words.noFrameOfStreamCounts}>{words.inspectionsWereWithdrawn}</EmptyState>
        ) : (
          <>
            <nav className={styles.view} aria-label={words.whatChartShows}>
              {FRAME_CHOICES.filter((choice, index) => index === 0 || total > (FRAME_CHOICES[index - 1] ?? 0)).map(
                (choice) => (
                  <Link
                    key={choice}
                    href={href({ frames: choice })}
                    aria-current={frames === choice ? "page" : undefined}
                  >
                    {words.newest(formatCount(choice))}
                  </Link>
                ),
              )}
              <span aria-hidden="true">·</span>
              {stream.tolerance === null || limits === null ? null : (
                <>
                  <Link href={href({ scale: "size" })} aria-current={scale === "size" ? "page" : undefined}>
                    {words.withLimitsOfDrawing}
                  </Link>
                  <Link href={href({ scale: "control" })} aria-current={scale === "control" ? "page" : undefined}>
                    {words.controlLimitsOnly}
                  </Link>
                </>
              )}
            </nav>
            <div className={styles.columns}>
              <StreamCharts
                mayExport={mayExport}
                stream={stream}
                reading={reading}
                scheme={scheme}
                zone={zone}
                nearLimits={scale === "control"}
                frames={frames}
              />
              <div className={styles.side}>
                <WhatToDo stream={stream} reading={reading} mayEnter={mayEnter} />
                <ToolLifePanel life={reading.toolLife} tool={reading.tool} />
                {histogram ? (
                  <section>
                    <SectionHeading aside={words.framesByValue}>
                      {stream.baseline.length > 1 ? words.baselineAndNow : words.framesShown}
                    </SectionHeading>
                    <ChartCanvas
                      spec={histogram}
                      title=""
                      alternative={words.histogramOfBaselineWithFitted}
                      size="small"
                      fileName={`${stream.line}-${feature}-histogram`}
                      mayExport={mayExport}
                      tools={false}
                    />
                    <p className={styles.note}>
                      {words.blueBaselineAndFittedCurve(
                        stream.baseline.length > 1
                          ? words.outlineToSameNumber(
                              since === null ? words.newest100 : words.sinceFrame(reading.numberOfRecent(since)),
                            )
                          : "",
                      )}
                    </p>
                  </section>
                ) : null}
                <Suspense fallback={<p className={styles.note}>{words.computingCapability}</p>}>
                  <CapabilityPanel viewer={viewer} id={stream.id} />
                </Suspense>
              </div>
            </div>
            <div className={styles.below}>
              <div>
                <section id="cases">
                  <SectionHeading>{words.cases}</SectionHeading>
                  <CaseList cases={stream.cases} />
                  <EarlierSignals signals={stream.earlierSignals} zone={zone} />
                </section>
                {mayEnter ? (
                  <section id="event">
                    <SectionHeading
                      aside={
                        <Link href={`/drift/events?line=${encodeURIComponent(stream.line)}`}>{words.allEvents}</Link>
                      }
                    >
                      {words.enterEvent}
                    </SectionHeading>
                    <EventForm lines={[{ id: stream.lineId, key: stream.line }]} />
                  </section>
                ) : null}
              </div>
              <div>
                <LimitsSection stream={stream} zone={zone} />
                {probability ? (
                  <details className={styles.fold}>
                    <summary>{words.probabilityPlot}</summary>
                    <ChartCanvas
                      spec={probability}
                      title=""
                      alternative={words.orderedValuesAgainstQuantiles}
                      size="medium"
                      fileName={`${stream.line}-${feature}-probability`}
                      mayExport={mayExport}
                      tools={false}
                    />
                    <p className={styles.note}>{words.onLineWhereDistributionFits}</p>
                  </details>
                ) : null}
                <section>
                  <SectionHeading>{words.otherStreamsOfTheseFrames}</SectionHeading>
                  <p className={styles.siblings}>
                    {stream.siblings.map((sibling) => (
                      <Link
                        key={sibling.id}
                        href={`/drift/streams/${sibling.id}`}
                        aria-current={sibling.id === stream.id ? "page" : undefined}
                      >
                        {streamName(sibling.feature)}
                        {sibling.hasCase ? words.withCase : ""}
                      </Link>
                    ))}
                    <Link
                      href={`/drift/target/${encodeURIComponent(stream.line)}?operation=${encodeURIComponent(stream.operation)}`}
                    >
                      {words.ndsOffsetAsTarget}
                    </Link>
                  </p>
                </section>
              </div>
            </div>
            <LeftOut leftOut={stream.leftOut} />
            <details className={styles.fold}>
              <summary>{words.newestPoints}</summary>
              <PointTable stream={stream} reading={reading} zone={zone} frames={frames} mayExport={mayExport} />
            </details>
            {mayExport ? <StreamPaper streamId={stream.id} frames={stream.points.length} /> : null}
          </>
        )}
      </PageFrame>
    </WorkPage>
  );
}
