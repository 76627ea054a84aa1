import type { Metadata } from "next";
import Link from "next/link";
import { z } from "zod";
import { formatDay, formatMoment } from "@/lib/format/date-text";
import { formatCounted, formatFixed } from "@/lib/format/number-text";
import { findingHeadline, formatStreamValue, ruleWords, SHARED_BECAUSE, streamName } from "@/lib/format/stream-words";
import { gatherCauses, type SharedCause } from "@/lib/quality/stream-causes";
import { listStreams, type OffsetListItem, type StreamListItem } from "@/lib/server/drift/list-streams";
import { EmptyState } from "@/lib/ui/empty-state";
import { FilterNav } from "@/lib/ui/filter-nav";
import { PageFrame, PageHead, SectionHeading } from "@/lib/ui/page-frame";
import { StateMark } from "@/lib/ui/state-mark";
import { keepWhole } from "@/lib/ui/keep-whole";
import { requireViewer, WorkPage } from "../_components/work-page";
import { LiveRefresh } from "./_components/live-refresh";
import { SparkLine } from "./_components/spark-line";
import styles from "./drift.module.css";

export const metadata: Metadata = { title: "Drift" };

const searchSchema = z.object({ line: z.string().max(64).optional().catch(undefined) });

/** Frames of the small line. */
const SPARK_FRAMES = 60;

type GroupedStream = StreamListItem & { readonly group: string };

/** Whether a stream went somewhere, or only met a rule: with many streams most single signals are chance. */
function hasMoved(stream: StreamListItem): boolean {
  return stream.openSignals > 0 && (stream.finding?.kind === "moved" || stream.finding?.kind === "off-baseline");
}

function headline(moved: number, single: number): string {
  if (moved > 0) return moved === 1 ? "One stream moved" : `${moved} streams moved`;
  if (single > 0)
    return single === 1 ? "Nothing moved; one stream has a signal" : `Nothing moved; ${single} streams have signals`;
  return "Every stream is in control";
}

/** What happened, and since when: the finding, or without one the newest signal. */
function whatHappened(stream: StreamListItem): string {
  const { finding, feature, line } = stream;
  const name = streamName(feature).replace(/^[a-z]/, (letter) => letter.toUpperCase());
  const at = `${name}, ${line}`;
  const numberOf = (index: number) => stream.points - stream.recent.length + index + 1;
  if (finding !== null && (finding.kind === "moved" || finding.kind === "off-baseline"))
    return `${at}: ${findingHeadline(finding, feature, numberOf)}`;
  const newest = stream.newestSignal;
  return newest === null ? at : `${at}: ${ruleWords(newest.rule)} at ${newest.serial}`;
}

function signalWords(stream: StreamListItem, zone: string): string {
  const { firstSignal, openSignals, newestSignal } = stream;
  if (firstSignal === null || newestSignal === null) return "";
  const since = `${firstSignal.serial}, ${formatMoment(firstSignal.at, { zone })}`;
  return openSignals === 1
    ? `1 open signal: ${ruleWords(firstSignal.rule)} at ${since}.`
    : `${openSignals} open signals since ${since}; the newest at ${newestSignal.serial}.`;
}

function LoudStream({ cause, zone }: Readonly<{ cause: SharedCause<GroupedStream>; zone: string }>) {
  const { lead, others, because } = cause;
  return (
    <li>
      <Link className={styles.loudLink} href={`/drift/streams/${lead.id}`}>
        <span className={styles.pennant} aria-hidden="true">
          <StateMark state="signal" size="fill" wordBeside />
        </span>
        <span>
          <strong>{whatHappened(lead)}</strong>
          <p>{keepWhole(signalWords(lead, zone))}</p>
        </span>
        <SparkLine values={lead.recent.slice(-SPARK_FRAMES * 2)} control={lead.control} loud />
      </Link>
      {others.length === 0 ? null : (
        <p className={styles.with}>
          <span>With it{because === null ? "" : `, since ${SHARED_BECAUSE[because]}`}:</span>
          {others.map((other) => (
            <Link key={other.id} href={`/drift/streams/${other.id}`}>
              {streamName(other.feature)}, {formatCounted(other.openSignals, "signal")}
            </Link>
          ))}
        </p>
      )}
    </li>
  );
}

function SignalledStream({ stream, zone }: Readonly<{ stream: GroupedStream; zone: string }>) {
  const newest = stream.newestSignal;
  const count = stream.openSignals > 1 ? `${stream.openSignals} signals, the newest ` : "";
  return (
    <li>
      <Link className={styles.signalled} href={`/drift/streams/${stream.id}`}>
        <span className={styles.smallPennant} aria-hidden="true">
          <StateMark state="signal" size="fill" wordBeside />
        </span>
        <span>
          <b>
            {streamName(stream.feature)}, {stream.line}
          </b>
          <small>
            {count}
            {newest === null
              ? ""
              : keepWhole(`${ruleWords(newest.rule)}, ${newest.serial}, ${formatDay(newest.at, { zone })}`)}
          </small>
        </span>
        <SparkLine values={stream.recent.slice(-SPARK_FRAMES)} control={stream.control} loud />
      </Link>
    </li>
  );
}

const LIMIT_WORDS = {
  approved: "",
  "not approved": ", limits not approved",
  provisional: ", provisional limits",
  none: ", no limits yet",
} as const;

function QuietStream({ stream }: Readonly<{ stream: StreamListItem }>) {
  const last = stream.recent.at(-1);
  return (
    <li>
      <Link href={`/drift/streams/${stream.id}`}>
        <span>
          <b>{streamName(stream.feature)}</b>
          <small>
            {last === undefined ? "no value" : formatStreamValue(last, stream.feature)}
            {LIMIT_WORDS[stream.limits]}
          </small>
        </span>
        <SparkLine values={stream.recent.slice(-SPARK_FRAMES)} control={stream.control} />
      </Link>
    </li>
  );
}

function QuietOffset({ offset }: Readonly<{ offset: OffsetListItem }>) {
  const lengths = offset.recent.map(([twelve, three]) => Math.hypot(twelve, three));
  const control = offset.zoneUm === null ? null : { center: 0, lower: null, upper: offset.zoneUm / 2 };
  return (
    <li>
      <Link href={`/drift/target/${encodeURIComponent(offset.line)}?operation=${encodeURIComponent(offset.operation)}`}>
        <span>
          <b>NDS offset, as a target</b>
          <small>
            {formatFixed(lengths.at(-1) ?? 0, 1)} µm
            {offset.zoneUm === null ? "" : `, limit ${formatFixed(offset.zoneUm / 2, 1)} µm`}
          </small>
        </span>
        <SparkLine values={lengths.slice(-SPARK_FRAMES)} control={control} />
      </Link>
    </li>
  );
}

function groupsOf(streams: readonly GroupedStream[], offsets: readonly OffsetListItem[]) {
  const heads = new Map<
    string,
    { key: string; line: string; lineName: string; operation: string; operationName: string; drawing: string }
  >();
  for (const { group, line, lineName, operation, operationName, drawing } of streams)
    if (!heads.has(group)) heads.set(group, { key: group, line, lineName, operation, operationName, drawing });
  return [...heads.values()]
    .toSorted((a, b) => a.key.localeCompare(b.key))
    .map((head) => ({
      ...head,
      quiet: streams.filter((stream) => stream.group === head.key && stream.openSignals === 0),
      loud: streams.filter((stream) => stream.group === head.key && stream.openSignals > 0).length,
      offsets: offsets.filter((one) => `${one.line} ${one.operation} ${one.drawing}` === head.key),
    }));
}

export default async function DriftPage({ searchParams }: PageProps<"/drift">) {
  const viewer = await requireViewer("/drift", "drift.view");
  const { line } = searchSchema.parse(await searchParams);
  const { streams, offsets } = await listStreams(viewer);
  const { plantZone: zone } = viewer;
  const lines = [...new Map(streams.map((stream) => [stream.line, stream])).values()].toSorted((a, b) =>
    a.line.localeCompare(b.line),
  );
  const shown: GroupedStream[] = streams
    .filter((stream) => line === undefined || stream.line === line)
    .map((stream) => ({ ...stream, group: `${stream.line} ${stream.operation} ${stream.drawing}` }));
  const moved = shown.filter(hasMoved);
  const single = shown.filter((stream) => stream.openSignals > 0 && !hasMoved(stream));
  const causes = gatherCauses(moved);
  const lineId = line === undefined ? undefined : shown[0]?.lineId;
  const open = (key?: string) =>
    streams.filter((stream) => stream.openSignals > 0 && (key === undefined || stream.line === key)).length;
  return (
    <WorkPage viewer={viewer} current="drift">
      <PageFrame
        head={
          <PageHead
            title={headline(moved.length, single.length)}
            lead="The one nearest to its limit first. Streams in control stay grey; a signal says that a process changed, not that a frame is bad."
            status={<LiveRefresh zone={zone} {...(lineId === undefined ? {} : { lineId })} />}
          />
        }
      >
        <FilterNav label="Filter by line" flush>
          <Link href="/drift" aria-current={line === undefined ? "page" : undefined}>
            all lines <small>{open()}</small>
          </Link>
          {lines.map((one) => (
            <Link
              key={one.line}
              href={`/drift?line=${encodeURIComponent(one.line)}`}
              aria-current={line === one.line ? "page" : undefined}
            >
              {one.line} <small>{open(one.line)}</small>
            </Link>
          ))}
        </FilterNav>
        {shown.length === 0 ? (
          <EmptyState title={streams.length === 0 ? "There is no stream yet" : "Nothing was measured on this line"}>
            {streams.length === 0
              ? "A stream begins with the first frame that is measured at a station. Limits are provisional from 25 frames on."
              : "Choose another line above."}
          </EmptyState>
        ) : null}
        {causes.length > 0 ? (
          <section>
            <SectionHeading aside="by what moved, the nearest to its limit first">What moved</SectionHeading>
            <ul className={styles.loud}>
              {causes.map((cause) => (
                <LoudStream key={cause.lead.id} cause={cause} zone={zone} />
              ))}
            </ul>
          </section>
        ) : null}
        {single.length > 0 ? (
          <section>
            <SectionHeading aside="the level did not change; some of these are chance">
              Signals to look at
            </SectionHeading>
            <ul className={`${styles.quiet} ${styles.wideRows}`}>
              {single.map((stream) => (
                <SignalledStream key={stream.id} stream={stream} zone={zone} />
              ))}
            </ul>
          </section>
        ) : null}
        {groupsOf(shown, offsets).map((group) => (
          <section key={group.key} className={styles.lineHead}>
            <SectionHeading
              aside={
                group.quiet.length === 0
                  ? "every stream has open signals"
                  : `${group.quiet.length} in control${group.loud === 0 ? "" : `, ${group.loud} above`}`
              }
            >
              {group.line}, {group.operationName}, {group.drawing}
            </SectionHeading>
            <ul className={styles.quiet}>
              {group.offsets.map((offset) => (
                <QuietOffset key={`${offset.line} ${offset.operation}`} offset={offset} />
              ))}
              {group.quiet.map((stream) => (
                <QuietStream key={stream.id} stream={stream} />
              ))}
            </ul>
          </section>
        ))}
      </PageFrame>
    </WorkPage>
  );
}
