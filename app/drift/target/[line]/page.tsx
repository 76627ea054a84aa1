import { addressPart } from "@/app/_components/address-part";
import type { Metadata } from "next";
import Link from "next/link";
import { notFound } from "next/navigation";
import { z } from "zod";
import { fitBivariateNormal } from "@/lib/core/capability/offset-capability";
import { fractionOutsideCircle } from "@/lib/core/distributions/bivariate-normal";
import { AppError } from "@/lib/errors";
import { formatOclock } from "@/lib/format/clock-text";
import { formatMoment } from "@/lib/format/date-text";
import { formatCounted, formatFixed, formatMm, formatPercent } from "@/lib/format/number-text";
import { noLimitsText } from "@/lib/format/signal-words";
import { adviseMove, readOffsets, type MoveAdvice, type OffsetReading } from "@/lib/quality/offset-reading";
import { mayDo } from "@/lib/server/auth/permissions";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import { getOffset, type OffsetPage } from "@/lib/server/drift/offset-queries";
import { streamChart } from "@/lib/charts/stream-chart";
import { ChartCanvas } from "@/lib/ui/chart-canvas";
import { EmptyState } from "@/lib/ui/empty-state";
import { KeyValues } from "@/lib/ui/key-values";
import { ActionPanel, PageFrame, PageHead, SectionHeading } from "@/lib/ui/page-frame";
import { StateMark } from "@/lib/ui/state-mark";
import { TargetPlot } from "@/lib/ui/target-plot";
import { TitleBlock } from "@/lib/ui/title-block";
import { keepWhole } from "@/lib/ui/keep-whole";
import { requireViewer, WorkPage } from "../../../_components/work-page";
import { LiveRefresh } from "../../_components/live-refresh";
import shared from "../../drift.module.css";
import styles from "./target.module.css";

export const metadata: Metadata = { title: "Alignment target" };

const searchSchema = z.object({
  operation: z.string().max(64).optional().catch(undefined),
  fixture: z.string().max(64).optional().catch(undefined),
  until: z.iso.datetime().optional().catch(undefined),
  frames: z.coerce.number().int().min(20).max(5000).catch(200),
});

async function findOffset(
  viewer: PersonViewer,
  filter: {
    line: string;
    operation?: string | undefined;
    fixture?: string | undefined;
    until?: Date | undefined;
    frames: number;
  },
): Promise<OffsetPage> {
  try {
    return await getOffset(viewer, filter);
  } catch (error) {
    if (error instanceof AppError && error.code === "not-found") notFound();
    throw error;
  }
}

const nearestHour = (degrees: number) => Math.round(degrees / 30) * 30;

function headline(page: OffsetPage, reading: OffsetReading, advice: MoveAdvice): string {
  const where = `NDS seat, ${page.line}`;
  if (!reading.target.ok) return `${where}: ${formatCounted(page.points.length, "frame")} so far`;
  const { length, directionDegrees } = reading.target.value;
  const serial = page.points[reading.since]?.serial ?? "";
  if (advice.kind === "leave" || directionDegrees === null)
    return `${where}: on the DS axis within ${formatMm(length / 1000)}`;
  const since = reading.changed ? ` since ${serial}` : "";
  return `${where}: off by ${formatMm(length / 1000)} towards ${formatOclock(nearestHour(directionDegrees))}${since}`;
}

const LEAVE_WORDS = {
  "not-significant": "No shift from the DS axis detected: what is left is the spread of single frames.",
  small: "The mean is off, but by less than a tenth of the zone: moving the locator would gain nothing.",
  "too-few": "Too few frames since the change to say where the mean lies.",
} as const;

function Advice({
  advice,
  reading,
  mayEnter,
}: Readonly<{ advice: MoveAdvice; reading: OffsetReading; mayEnter: boolean }>) {
  if (advice.kind === "leave")
    return (
      <ActionPanel tone="ok" title="Leave the locator where it is">
        <p>{LEAVE_WORDS[advice.because]}</p>
        {reading.target.ok ? reading.target.warnings.map((words) => <p key={words}>{words}</p>) : null}
      </ActionPanel>
    );
  const circle = reading.target.ok ? reading.target.value.meanRegion.circleRadius : 0;
  const up = `${formatMm(Math.abs(advice.upUm) / 1000)} ${advice.upUm < 0 ? "down" : "up"}`;
  const front = `${formatMm(Math.abs(advice.frontUm) / 1000)} towards ${advice.frontUm < 0 ? "9" : "3"} o’clock`;
  return (
    <ActionPanel
      tone="blue"
      title={`Move the NDS locator ${formatFixed(advice.byUm / 1000, 2)} mm towards ${formatOclock(nearestHour(advice.towardsDegrees))}`}
    >
      <p>
        {up} and {front}, each ±{formatMm(circle / 1000)} (95 %). Then measure 5 frames before going on
        {mayEnter ? ", and enter the move as an event" : ""}.
      </p>
      {reading.target.ok ? reading.target.warnings.map((words) => <p key={words}>{words}</p>) : null}
    </ActionPanel>
  );
}

function Shares({ page, reading }: Readonly<{ page: OffsetPage; reading: OffsetReading }>) {
  const present = page.points.slice(reading.since).map((point) => point.offset);
  if (page.zoneUm === null || present.length < 10) return null;
  const radius = page.zoneUm / 2;
  const model = fitBivariateNormal(present);
  const now = fractionOutsideCircle(model, radius);
  const after = fractionOutsideCircle({ ...model, mean: [0, 0] }, radius);
  const measured = present.filter(([y, z]) => Math.hypot(y, z) > radius).length;
  const share = (fraction: number, words: string, label: string) => (
    <div>
      <small>{label}</small>
      <b className={fraction > 0.01 ? "noText" : undefined}>{formatPercent(fraction)}</b>
      <div className={styles.bar}>
        <i style={{ width: `${Math.min(100, fraction * 1000)}%` }} />
      </div>
      <small>{words}</small>
    </div>
  );
  return (
    <section>
      <SectionHeading aside="from the fitted distribution">
        Frames outside the zone ø {formatMm(page.zoneUm / 1000)}
      </SectionHeading>
      <div className={styles.shares}>
        {share(now, `${measured} of ${present.length} measured so`, "as it stands")}
        {share(after, "if the spread stays as it is", "with the mean on the axis")}
      </div>
    </section>
  );
}

function T2Chart({
  page,
  reading,
  mayExport,
}: Readonly<{ page: OffsetPage; reading: OffsetReading; mayExport: boolean }>) {
  if (!reading.limits.ok) return <p>{noLimitsText(reading.limits.reason)}</p>;
  const { upper } = reading.limits.value;
  const place = (index: number) => index + 1;
  const spec = streamChart({
    frame: page.points.map((_, index) => place(index)),
    value: reading.t2,
    serial: page.points.map((point) => point.serial),
    unit: "",
    decimals: 1,
    lower: null,
    upper: null,
    guard: 0,
    centre: null,
    lowerControl: null,
    upperControl: upper,
    baseline: null,
    flagged: reading.beyond.map((index) => ({ index, remark: "beyond the T² limit" })),
    changePoint:
      reading.changed && reading.range
        ? {
            at: place(reading.since) - 0.5,
            text: `change at ${page.points[reading.since]?.serial ?? ""}`,
            from: place(reading.range[0]),
            to: place(reading.range[1]),
            intervalText: "95 % interval",
          }
        : null,
  });
  return (
    <ChartCanvas
      spec={{ ...spec, yMin: 0 }}
      title="T² of the offset vector"
      finding={`${formatCounted(reading.beyond.length, "frame")} of ${reading.t2.length} beyond the limit`}
      alternative="Hotelling's T squared of each frame about the baseline, against its limit."
      size="medium"
      fileName={`${page.line}-offset-t2`}
      mayExport={mayExport}
    />
  );
}

export default async function TargetPage({ params, searchParams }: PageProps<"/drift/target/[line]">) {
  const line = addressPart((await params).line);
  const viewer = await requireViewer(`/drift/target/${encodeURIComponent(line)}`, "drift.view");
  const filter = searchSchema.parse(await searchParams);
  const { plantZone: zone } = viewer;
  const until = filter.until === undefined ? undefined : new Date(filter.until);
  const page = await findOffset(viewer, { line, ...filter, until });
  const reading = readOffsets(
    page.points.map((point) => point.offset),
    page.baseline.map((point) => point.offset),
  );
  const zoneUm = page.zoneUm ?? 100;
  const advice = adviseMove(reading, zoneUm);
  const target = reading.target.ok ? reading.target.value : null;
  const since = page.points[reading.since];
  const vector = ([twelve, three]: readonly [number, number]) => ({ towards12Um: twelve, towards3Um: three });
  const shown = page.baseline.slice(-100);
  const href = (change: { fixture?: string | undefined; until?: string | undefined }) => {
    const { operation, frames } = filter;
    const wanted = { operation, frames: String(frames), fixture: filter.fixture, until: filter.until, ...change };
    const given = Object.entries(wanted).filter((pair): pair is [string, string] => pair[1] !== undefined);
    return `/drift/target/${encodeURIComponent(line)}?${new URLSearchParams(given)}`;
  };
  return (
    <WorkPage viewer={viewer} current="drift">
      <PageFrame
        head={
          <PageHead
            title={headline(page, reading, advice)}
            lead={
              reading.changed && since ? (
                <>
                  {keepWhole(`The mean changed at ${since.serial}, ${formatMoment(since.at, { zone })}.`)}{" "}
                  <Link href={href({ until: new Date(since.at - 1).toISOString() })}>Look at the frames before</Link>
                </>
              ) : (
                "No significant change of the mean in the frames shown."
              )
            }
            status={
              <span className={styles.status}>
                {reading.beyond.some((index) => index >= reading.since) ? (
                  <StateMark
                    state="signal"
                    word={`${reading.beyond.filter((index) => index >= reading.since).length} beyond T²`}
                  />
                ) : null}
                <LiveRefresh zone={zone} lineId={page.lineId} />
              </span>
            }
          />
        }
        titleBlock={
          <TitleBlock
            projection
            cells={[
              { label: "stream", value: `${page.line}, NDS offset from datum DS, ${page.operationName}` },
              { label: "drawing", value: `${page.drawing.key}, revision ${page.drawing.revision}` },
              { label: "baseline", value: `${page.baselineWords}, ${formatCounted(page.baseline.length, "frame")}` },
              { label: "limit", value: "Hotelling T², one false alarm in 370 frames" },
              {
                label: "uncertainty U (k = 2)",
                value:
                  page.uncertaintyUm === null ? "none given" : `±${formatFixed(page.uncertaintyUm, 1)} µm of the zone`,
              },
              {
                label: "frames",
                value: page.points.length === 0 ? "none" : `${page.points[0]?.serial} to ${page.points.at(-1)?.serial}`,
                code: true,
              },
            ]}
          />
        }
      >
        {page.fixtures.length > 1 ? (
          <nav className={shared.filters} aria-label="Filter by fixture">
            <Link href={href({ fixture: undefined })} aria-current={filter.fixture === undefined ? "page" : undefined}>
              all fixtures
            </Link>
            {page.fixtures.map((fixture) => (
              <Link
                key={fixture}
                href={href({ fixture })}
                aria-current={filter.fixture === fixture ? "page" : undefined}
              >
                {fixture}
              </Link>
            ))}
          </nav>
        ) : null}
        {filter.until === undefined ? null : (
          <p className="soft">
            {keepWhole(`Shown as it was on ${formatMoment(filter.until, { zone })}.`)}{" "}
            <Link href={href({ until: undefined })}>Show now</Link>
          </p>
        )}
        {page.points.length === 0 ? (
          <EmptyState title="No offset was measured in these frames">
            The offset comes from an indicator sweep of the NDS seat about the DS axis. Choose another fixture, or sweep
            a frame.
          </EmptyState>
        ) : (
          <div className={styles.columns}>
            <div className={styles.plot}>
              <TargetPlot
                side="ds"
                zoneUm={zoneUm}
                baseline={shown.map((point) => vector(point.offset))}
                recent={page.points
                  .slice(reading.since)
                  .map((point) => ({ ...vector(point.offset), serial: point.serial }))}
                mean={target === null ? null : { ...vector(target.mean), circleUm: target.meanRegion.circleRadius }}
                ellipse={
                  target === null
                    ? null
                    : {
                        ...vector(target.mean),
                        longUm: target.frameRegion.ellipse.semiMajor,
                        shortUm: target.frameRegion.ellipse.semiMinor,
                        directionDeg: target.frameRegion.ellipse.directionDegrees,
                      }
                }
                adviseMove={advice.kind === "move"}
                baselineName="baseline, newest"
                recentName={reading.changed && since ? `since ${since.serial}` : "newest"}
              />
            </div>
            <div className={styles.side}>
              <Advice advice={advice} reading={reading} mayEnter={mayDo(viewer, "drift.add-event")} />
              <Shares page={page} reading={reading} />
              {target === null ? null : (
                <KeyValues
                  pairs={[
                    {
                      label: "Mean offset",
                      note: "95 % circle of the mean",
                      value: `${formatFixed(target.length / 1000, 3)} ±${formatMm(target.meanRegion.circleRadius / 1000)}`,
                    },
                    {
                      label: "Direction",
                      value:
                        target.directionDegrees === null
                          ? "none"
                          : `${formatOclock(nearestHour(target.directionDegrees))}, ${formatFixed(target.directionDegrees, 0)}°`,
                    },
                    {
                      label: "T² of the mean",
                      note: reading.meanT2 === null ? null : `limit ${formatFixed(reading.meanT2.limit, 1)}`,
                      value: reading.meanT2 === null ? "not estimable" : formatFixed(reading.meanT2.t2, 1),
                    },
                    {
                      label: "Spread, 1 sd",
                      value: formatMm(Math.sqrt((target.covariance[0] + target.covariance[2]) / 2) / 1000),
                    },
                  ]}
                />
              )}
              <T2Chart page={page} reading={reading} mayExport={mayDo(viewer, "records.export")} />
            </div>
          </div>
        )}
      </PageFrame>
    </WorkPage>
  );
}
