import type { Metadata } from "next";
import Link from "next/link";
import { z } from "zod";
import { formatDay, formatMoment } from "@/lib/format/date-text";
import { formatCounted, formatFixed } from "@/lib/format/number-text";
import { answerWords, caseHeadline, causeName, costWords, sinceWords } from "@/lib/format/case-words";
import { formatStreamValue, streamName } from "@/lib/format/stream-words";
import type { CauseCode } from "@/lib/quality/cases/case";
import { mayDo } from "@/lib/server/auth/permissions";
import { type CaseListItem, listCases, readAlarmScheme } from "@/lib/server/cases/queries";
import { listStreams, type OffsetListItem, type StreamListItem } from "@/lib/server/drift/list-streams";
import { EmptyState } from "@/lib/ui/empty-state";
import { EntryForm } from "@/lib/ui/entry-form";
import { FilterNav } from "@/lib/ui/filter-nav";
import { PageFrame, PageHead, SectionHeading } from "@/lib/ui/page-frame";
import { StateMark } from "@/lib/ui/state-mark";
import { keepWhole } from "@/lib/ui/keep-whole";
import { requireViewer, WorkPage } from "../_components/work-page";
import { LiveRefresh } from "./_components/live-refresh";
import { SparkLine } from "./_components/spark-line";
import { setBudgetAction } from "./cases/actions";
import { CASE_WORDS } from "./cases/words";
import { EVENT_WORDS } from "./events/words";
import { DRIFT_WORDS as shared } from "./words";
import styles from "./drift.module.css";

export const metadata: Metadata = { title: shared.title };

const searchSchema = z.object({ line: z.string().max(64).optional().catch(undefined) });

const words = CASE_WORDS.list;

/** Frames of the small line. */
const SPARK_FRAMES = 60;

type GroupedStream = StreamListItem & { readonly group: string };

/** How a case stands, in a few words. */
function stateWords({ overAt, stands, times }: CaseListItem): string {
  const now = stands ? (overAt === null ? words.goesOn : words.over) : words.gone;
  return times > 1 ? `${now}, ${words.again(times)}` : now;
}

function OpenCase({ one, zone }: Readonly<{ one: CaseListItem; zone: string }>) {
  const { found, lineName, owner, heldBatches } = one;
  const since = `${sinceWords(found)}, ${formatMoment(one.sinceAt, { zone })}; ${stateWords(one)}.`;
  const cost = `${costWords(found, heldBatches)}. ${owner === null ? words.noOwner : words.owner(owner)}.`;
  return (
    <li>
      <Link className={styles.loudLink} href={`/drift/cases/${one.id}`}>
        <span className={styles.pennant} aria-hidden="true">
          <StateMark state="signal" size="fill" wordBeside />
        </span>
        <span>
          <strong>{keepWhole(`${lineName}: ${caseHeadline(found)}`)}</strong>
          <p>{keepWhole(answerWords(found.answer))}</p>
          <p>{keepWhole(since.replace(/^./, (letter) => letter.toUpperCase()))}</p>
          <p>{keepWhole(cost)}</p>
        </span>
      </Link>
    </li>
  );
}

function ClosedCase({ one, zone }: Readonly<{ one: CaseListItem; zone: string }>) {
  const cause = one.cause === null ? "" : `, ${causeName(one.cause as CauseCode)}`;
  return (
    <li>
      <Link href={`/drift/cases/${one.id}`}>
        <span>
          <b>{`${CASE_WORDS.title(one.number)}, ${one.lineName}${cause}`}</b>
          <small>{keepWhole(`${caseHeadline(one.found)}, ${formatDay(one.sinceAt, { zone })}`)}</small>
        </span>
      </Link>
    </li>
  );
}

function QuietStream({ stream }: Readonly<{ stream: StreamListItem }>) {
  const last = stream.recent.at(-1);
  return (
    <li>
      <Link href={`/drift/streams/${stream.id}`}>
        <span>
          <b>{streamName(stream.feature)}</b>
          <small>
            {last === undefined ? shared.noValue : formatStreamValue(last, stream.feature)}
            {shared.limits[stream.limits]}
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
          <b>{shared.offset}</b>
          <small>
            {shared.offsetNow(
              formatFixed(lengths.at(-1) ?? 0, 1),
              offset.zoneUm === null ? null : formatFixed(offset.zoneUm / 2, 1),
            )}
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
      streams: streams.filter((stream) => stream.group === head.key),
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
  const lineId = line === undefined ? undefined : shown[0]?.lineId;
  const [open, closed, scheme] = await Promise.all([
    listCases(viewer, { open: "true", line, limit: 200 }),
    listCases(viewer, { open: "false", line, limit: 10 }),
    readAlarmScheme(viewer),
  ]);
  return (
    <WorkPage viewer={viewer} current="drift">
      <PageFrame
        head={
          <PageHead
            title={open.cases.length === 0 ? words.quiet : words.open(open.cases.length)}
            lead={words.lead}
            status={
              <>
                <LiveRefresh zone={zone} {...(lineId === undefined ? {} : { lineId })} />
                <Link href="/drift/events">{EVENT_WORDS.title}</Link>
              </>
            }
          />
        }
      >
        <FilterNav label={shared.filter} flush>
          <Link href="/drift" aria-current={line === undefined ? "page" : undefined}>
            {shared.allLines}
          </Link>
          {lines.map((one) => (
            <Link
              key={one.line}
              href={`/drift?line=${encodeURIComponent(one.line)}`}
              aria-current={line === one.line ? "page" : undefined}
            >
              {one.line}
            </Link>
          ))}
        </FilterNav>
        {shown.length === 0 ? (
          <EmptyState title={streams.length === 0 ? shared.noStream : shared.noneOnLine}>
            {streams.length === 0 ? shared.noStreamHint : shared.noneOnLineHint}
          </EmptyState>
        ) : null}
        {open.cases.length > 0 ? (
          <section>
            <SectionHeading aside={words.headingAside}>{words.heading}</SectionHeading>
            <ul className={styles.loud}>
              {open.cases.map((one) => (
                <OpenCase key={one.id} one={one} zone={zone} />
              ))}
            </ul>
          </section>
        ) : null}
        {groupsOf(shown, offsets).map((group) => (
          <section key={group.key} className={styles.lineHead}>
            <SectionHeading aside={formatCounted(group.streams.length, "stream")}>
              {shared.group(group.line, group.operationName, group.drawing)}
            </SectionHeading>
            <ul className={styles.quiet}>
              {group.offsets.map((offset) => (
                <QuietOffset key={`${offset.line} ${offset.operation}`} offset={offset} />
              ))}
              {group.streams.map((stream) => (
                <QuietStream key={stream.id} stream={stream} />
              ))}
            </ul>
          </section>
        ))}
        {closed.cases.length > 0 ? (
          <section>
            <SectionHeading aside={words.closedAside}>{words.closed}</SectionHeading>
            <ul className={styles.quiet}>
              {closed.cases.map((one) => (
                <ClosedCase key={one.id} one={one} zone={zone} />
              ))}
            </ul>
          </section>
        ) : null}
        <section>
          <SectionHeading>{words.schemeHeading}</SectionHeading>
          <p>
            {scheme.version === 0
              ? words.noScheme
              : words.scheme(formatFixed(scheme.budget, 2), formatCounted(scheme.streams, "stream"), scheme.version)}
          </p>
          {mayDo(viewer, "drift.set-budget") ? (
            <EntryForm
              action={setBudgetAction}
              submit={words.setBudget}
              done={words.budgetSet}
              kind="plain"
              keep
              fields={[
                {
                  name: "budget",
                  label: words.budget,
                  kind: "number",
                  hint: words.budgetHint,
                  value: String(scheme.budget),
                },
              ]}
            />
          ) : null}
        </section>
      </PageFrame>
    </WorkPage>
  );
}
