import { addressPart } from "@/app/_components/address-part";
import type { Metadata } from "next";
import Link from "next/link";
import { notFound } from "next/navigation";
import { z } from "zod";
import { fitBivariateNormal } from "@/lib/core/capability/offset-capability";
import { fractionOutsideCircle } from "@/lib/core/distributions/bivariate-normal";
import { AppError } from "@/lib/errors";
import { formatOclock } from "@/lib/format/clock-text";
import { formatDay, formatMoment } from "@/lib/format/date-text";
import { formatFixed, formatMm, formatPercent } from "@/lib/format/number-text";
import { noLimitsText } from "@/lib/format/signal-words";
import { adviseMove, readOffsets, type MoveAdvice, type OffsetReading } from "@/lib/quality/offset-reading";
import { momentSchema } from "@/lib/schemas/moment";
import { mayDo } from "@/lib/server/auth/permissions";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import { getOffset, type OffsetPage } from "@/lib/server/drift/offset-queries";
import { streamChart } from "@/lib/charts/stream-chart";
import { ChartCanvas } from "@/lib/ui/chart-canvas";
import { EmptyState } from "@/lib/ui/empty-state";
import { FilterNav } from "@/lib/ui/filter-nav";
import { KeyValues } from "@/lib/ui/key-values";
import { ActionPanel, PageFrame, PageHead, SectionHeading } from "@/lib/ui/page-frame";
import { StateMark } from "@/lib/ui/state-mark";
import { TargetPlot } from "@/lib/ui/target-plot";
import { TitleBlock } from "@/lib/ui/title-block";
import { keepWhole } from "@/lib/ui/keep-whole";
import { requireViewer, WorkPage } from "../../../_components/work-page";
import { LiveRefresh } from "../../../_components/live-refresh";
import { EventForm } from "../../events/_components/event-form";
import { TARGET_WORDS } from "../words";
import styles from "./target.module.css";

const texts = TARGET_WORDS.target;

export const metadata: Metadata = { title: texts.alignmentTarget };

const searchSchema = z.object({
  operation: z.string().max(64).optional().catch(undefined),
  fixture: z.string().max(64).optional().catch(undefined),
  until: momentSchema.optional().catch(undefined),
  frames: z.coerce.number().int().min(20).max(5000).catch(200),
});

/** Frames to choose from. */
const COUNTS = [50, 200, 1000] as const;

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

/** The newest shim of the fixtures shown, up to the end of the range; one that names no fixture may be of any. */
function newestShim({ events, fixtures }: OffsetPage, fixture: string | undefined, until: Date | undefined) {
  const shown = fixture === undefined ? fixtures : [fixture];
  const shims = events.filter(
    ({ kind, subject, at }) =>
      kind === "fixture shimmed" &&
      (subject === null || subject === "" || shown.includes(subject)) &&
      (until === undefined || Date.parse(at) <= until.getTime()),
  );
  return shims.at(-1) ?? null;
}

const nearestHour = (degrees: number) => Math.round(degrees / 30) * 30;

function headline(page: OffsetPage, reading: OffsetReading, advice: MoveAdvice): string {
  const where = texts.ndsSeat(page.line);
  if (!reading.target.ok) return texts.soFar(where, page.points.length);
  const { length, directionDegrees } = reading.target.value;
  const serial = page.points[reading.since]?.serial ?? "";
  if (advice.kind === "leave" || directionDegrees === null) return texts.onDsAxisWithin(where, formatMm(length / 1000));
  const since = reading.changed ? texts.sinceSerial(serial) : "";
  return texts.offByTowards(where, formatMm(length / 1000), formatOclock(nearestHour(directionDegrees)), since);
}

function Advice({
  advice,
  reading,
  mayEnter,
  isNow,
}: Readonly<{ advice: MoveAdvice; reading: OffsetReading; mayEnter: boolean; isNow: boolean }>) {
  if (!isNow)
    return (
      <ActionPanel tone="ok" title={texts.noAdvice}>
        <p>{texts.noAdviceWords}</p>
      </ActionPanel>
    );
  if (advice.kind === "leave")
    return (
      <ActionPanel tone="ok" title={texts.leaveLocatorWhereIs}>
        <p>{texts.leaveWords[advice.because]}</p>
        {reading.target.ok ? reading.target.warnings.map((words) => <p key={words}>{words}</p>) : null}
      </ActionPanel>
    );
  const circle = reading.target.ok ? reading.target.value.meanRegion.circleRadius : 0;
  const up = `${formatMm(Math.abs(advice.upUm) / 1000)} ${advice.upUm < 0 ? "down" : "up"}`;
  const front = texts.towardsOclock(formatMm(Math.abs(advice.frontUm) / 1000), advice.frontUm < 0 ? "9" : "3");
  return (
    <ActionPanel
      tone="blue"
      title={texts.moveNdsLocatorMmTowards(
        formatFixed(advice.byUm / 1000, 2),
        formatOclock(nearestHour(advice.towardsDegrees)),
      )}
    >
      <p>{texts.andEach95ThenMeasure(up, front, formatMm(circle / 1000), mayEnter ? texts.andEnterMoveAsEvent : "")}</p>
      <p>{texts.lockOut}</p>
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
      <SectionHeading aside={texts.fromFittedDistribution}>
        {texts.framesOutsideZone(formatMm(page.zoneUm / 1000))}
      </SectionHeading>
      <div className={styles.shares}>
        {share(now, texts.ofMeasuredSo(measured, present.length), texts.asStands)}
        {share(after, texts.ifSpreadStaysAsIs, texts.withMeanOnAxis)}
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
    flagged: reading.beyond.map((index) => ({ index, remark: texts.beyondT2Limit })),
    events: page.events.map(({ at, text }) => {
      const next = page.points.findIndex((point) => point.at >= Date.parse(at));
      return { at: place(next < 0 ? page.points.length : next) - 0.5, text: texts.eventTag(text) };
    }),
    changePoint:
      reading.changed && reading.range
        ? {
            at: place(reading.since) - 0.5,
            text: texts.changeAt(page.points[reading.since]?.serial ?? ""),
            from: place(reading.range[0]),
            to: place(reading.range[1]),
            intervalText: texts.interval95,
          }
        : null,
  });
  return (
    <ChartCanvas
      spec={{ ...spec, yMin: 0 }}
      title={texts.t2OfOffsetVector}
      finding={texts.ofBeyondLimit(reading.beyond.length, reading.t2.length)}
      alternative={texts.hotellingsTSquared}
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
  const isNow = filter.until === undefined;
  const shim = newestShim(page, filter.fixture, until);
  const reading = readOffsets(
    page.points.map((point) => point.offset),
    page.baseline.map((point) => point.offset),
    shim === null ? null : page.points.filter(({ at }) => at < Date.parse(shim.at)).length,
  );
  const zoneUm = page.zoneUm ?? 100;
  const newest = page.points.at(-1);
  const advice = adviseMove(reading, zoneUm, {
    frames: page.points.length - reading.since,
    ageMs: newest === undefined ? null : Date.now() - newest.at,
  });
  const mayEnter = mayDo(viewer, "drift.add-event");
  const target = reading.target.ok ? reading.target.value : null;
  const since = page.points[reading.since];
  const vector = ([twelve, three]: readonly [number, number]) => ({ towards12Um: twelve, towards3Um: three });
  const shown = page.baseline.slice(-100);
  const href = (change: { fixture?: string | undefined; until?: string | undefined; frames?: string }) => {
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
            title={isNow ? headline(page, reading, advice) : texts.until(headline(page, reading, advice))}
            lead={
              reading.changed && since ? (
                <>
                  {keepWhole(texts.meanChangedAt(since.serial, formatMoment(since.at, { zone })))}{" "}
                  <Link href={href({ until: new Date(since.at - 1).toISOString() })}>{texts.lookAtFramesBefore}</Link>
                </>
              ) : reading.shimmed && shim !== null ? (
                texts.shimmedSince(
                  shim.text,
                  formatMoment(shim.at, { zone }),
                  page.points.filter(({ at }) => at >= Date.parse(shim.at)).length,
                )
              ) : (
                texts.noSignificantChangeOfMean
              )
            }
            status={
              <span className={styles.status}>
                {reading.beyond.some((index) => index >= reading.since) ? (
                  <StateMark
                    state="signal"
                    word={texts.beyondT2(reading.beyond.filter((index) => index >= reading.since).length)}
                  />
                ) : null}
                <LiveRefresh zone={zone} lineId={page.lineId} />
                <Link href={`/drift/why?line=${encodeURIComponent(line)}`}>{texts.why}</Link>
                <Link href="/drift">{texts.back}</Link>
              </span>
            }
          />
        }
        titleBlock={
          <TitleBlock
            projection
            cells={[
              { label: texts.stream, value: texts.ndsOffsetFromDatumDs(page.line, page.operationName) },
              { label: texts.drawing, value: texts.revision(page.drawing.key, page.drawing.revision) },
              { label: texts.baseline, value: `${page.baselineWords}, ${texts.frames(page.baseline.length)}` },
              { label: texts.limit, value: texts.hotellingT2 },
              {
                label: texts.uncertaintyUK2,
                value:
                  page.uncertaintyUm === null ? texts.noneGiven : texts.umOfZone(formatFixed(page.uncertaintyUm, 1)),
              },
              {
                label: texts.framesLabel,
                value:
                  page.points.length === 0
                    ? "none"
                    : texts.serialToSerial(page.points[0]?.serial, page.points.at(-1)?.serial),
                code: true,
              },
              {
                label: texts.range,
                value:
                  page.points[0] === undefined || newest === undefined
                    ? texts.noneGiven
                    : texts.rangeOf(formatDay(page.points[0].at, { zone }), formatDay(newest.at, { zone })),
              },
            ]}
          />
        }
      >
        {page.fixtures.length > 1 ? (
          <FilterNav label={texts.filterByFixture} flush>
            <Link href={href({ fixture: undefined })} aria-current={filter.fixture === undefined ? "page" : undefined}>
              {texts.allFixtures}
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
          </FilterNav>
        ) : null}
        <FilterNav label={texts.howMany} flush>
          {COUNTS.map((count) => (
            <Link
              key={count}
              href={href({ frames: String(count) })}
              aria-current={filter.frames === count ? "page" : undefined}
            >
              {texts.newest(count)}
            </Link>
          ))}
        </FilterNav>
        {filter.until === undefined ? null : (
          <p className="soft">
            {keepWhole(texts.shownAsWasOn(formatMoment(filter.until, { zone })))}{" "}
            <Link href={href({ until: undefined })}>{texts.showNow}</Link>
          </p>
        )}
        {page.points.length === 0 ? (
          <EmptyState title={texts.noOffsetWasMeasured}>{texts.offsetComesFromIndicatorSweep}</EmptyState>
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
                adviseMove={isNow && advice.kind === "move"}
                baselineName={texts.baselineNewest}
                recentName={
                  (reading.changed || reading.shimmed) && since ? texts.since(since.serial) : texts.newestName
                }
              />
            </div>
            <div className={styles.side}>
              <Advice advice={advice} reading={reading} mayEnter={mayEnter} isNow={isNow} />
              {mayEnter && isNow ? (
                <details className={styles.enter} open={advice.kind === "move"}>
                  <summary>{texts.enterMove}</summary>
                  <EventForm
                    lines={[{ id: page.lineId, key: page.line }]}
                    filled={{
                      kind: "fixture shimmed",
                      subject: filter.fixture ?? (page.fixtures.length === 1 ? page.fixtures[0] : undefined),
                    }}
                  />
                </details>
              ) : null}
              <Shares page={page} reading={reading} />
              {target === null ? null : (
                <KeyValues
                  pairs={[
                    {
                      label: texts.meanOffset,
                      note: texts.circleOfMean,
                      value: `${formatFixed(target.length / 1000, 3)} ±${formatMm(target.meanRegion.circleRadius / 1000)}`,
                    },
                    {
                      label: texts.direction,
                      value:
                        target.directionDegrees === null
                          ? "none"
                          : `${formatOclock(nearestHour(target.directionDegrees))}, ${formatFixed(target.directionDegrees, 0)}°`,
                    },
                    {
                      label: texts.t2OfMean,
                      note: reading.meanT2 === null ? null : texts.limitLimit(formatFixed(reading.meanT2.limit, 1)),
                      value: reading.meanT2 === null ? texts.notEstimable : formatFixed(reading.meanT2.t2, 1),
                    },
                    {
                      label: texts.spread1Sd,
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
