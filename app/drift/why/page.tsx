import type { Metadata } from "next";
import Link from "next/link";
import { z } from "zod";
import { formatMoment } from "@/lib/format/date-text";
import { formatPercent } from "@/lib/format/number-text";
import { formatStreamDifference, formatStreamValue, streamName } from "@/lib/format/stream-words";
import { type DifferingGroup, type OutlyingShift, whatStandsOut } from "@/lib/quality/why/what-stands-out";
import { groupOf, readWhyStreams, type WhyHead } from "@/lib/server/drift/why-frames";
import { DataTable, type TableColumn } from "@/lib/ui/data-table";
import { EmptyState } from "@/lib/ui/empty-state";
import { FilterNav } from "@/lib/ui/filter-nav";
import { PageFrame, PageHead, SectionHeading } from "@/lib/ui/page-frame";
import { requireViewer, WorkPage } from "../../_components/work-page";
import { WHY_WORDS as words } from "./words";
import styles from "./why.module.css";

export const metadata: Metadata = { title: words.title };

const searchSchema = z.object({ line: z.string().max(64).optional().catch(undefined) });

/** Rows of each table. */
const MOST_ROWS = 30;
const NAMED_STREAMS = 2;

type Places = ReadonlyMap<string, WhyHead>;

function shiftColumns(zone: string, places: Places): readonly TableColumn<OutlyingShift>[] {
  const { standsOut } = words;
  const whereOf = (group: string) => {
    const head = places.get(group);
    return head === undefined ? group : `${head.line}, ${head.operationName}`;
  };
  return [
    {
      key: "when",
      label: standsOut.when,
      cell: ({ shiftAt, streams: [first] }) => (
        <Link className="nowrap" href={`/drift/why/${first?.id ?? ""}?by=inspector`}>
          {formatMoment(shiftAt, { zone })}
        </Link>
      ),
    },
    { key: "line", label: standsOut.line, cell: ({ group }) => whereOf(group) },
    {
      key: "streams",
      label: standsOut.streams,
      cell: ({ streams }) =>
        standsOut.more(
          streams
            .slice(0, NAMED_STREAMS)
            .map(({ feature }) => streamName(feature))
            .join(", "),
          Math.max(0, streams.length - NAMED_STREAMS),
        ),
    },
    {
      key: "furthest",
      label: standsOut.farthest,
      cell: ({ streams: [first] }) =>
        first === undefined
          ? ""
          : standsOut.against(
              formatStreamValue(first.mean, first.feature),
              formatStreamValue(first.usual, first.feature),
            ),
    },
    { key: "inspector", label: standsOut.inspector, cell: ({ labels }) => labels.inspector ?? standsOut.unknown },
    {
      key: "with",
      label: standsOut.with,
      cell: ({ labels }) =>
        [labels.gauge, labels.tool, labels.fixture, labels.mould].filter((one) => one !== undefined).join(", "),
    },
  ];
}

function groupColumns(places: Places): readonly TableColumn<DifferingGroup>[] {
  const { differs } = words;
  return [
    {
      key: "group",
      label: differs.group,
      cell: ({ stream, factor, name }) => (
        <Link href={`/drift/why/${stream.id}?by=${factor}`}>{differs.named(factor, name)}</Link>
      ),
    },
    {
      key: "line",
      label: differs.line,
      cell: ({ stream }) => {
        const head = places.get(stream.group);
        return head === undefined ? stream.group : `${head.line}, ${head.operationName}`;
      },
    },
    { key: "stream", label: differs.stream, cell: ({ stream }) => streamName(stream.feature) },
    {
      key: "difference",
      label: differs.difference,
      kind: "numeric",
      cell: ({ difference, stream }) => formatStreamDifference(difference, stream.feature),
    },
    { key: "chance", label: differs.chance, kind: "numeric", cell: ({ pValue }) => formatPercent(pValue) },
  ];
}

export default async function WhyPage({ searchParams }: PageProps<"/drift/why">) {
  const viewer = await requireViewer("/drift/why", "drift.view");
  const { line } = searchSchema.parse(await searchParams);
  const { heads, streams } = await readWhyStreams(viewer);
  const lines = [...new Set(heads.map((head) => head.line))].toSorted();
  const shown = new Set(heads.filter((head) => line === undefined || head.line === line).map(groupOf));
  const places: Places = new Map(heads.map((head) => [groupOf(head), head]));
  const { shifts, groups } = whatStandsOut(streams.filter(({ group }) => shown.has(group)));
  const { standsOut, differs } = words;
  return (
    <WorkPage viewer={viewer} current="drift">
      <PageFrame
        head={
          <PageHead
            title={words.allTitle(shifts.length, groups.length)}
            lead={words.allLead}
            status={<Link href="/drift">{words.backToDrift}</Link>}
          />
        }
      >
        <FilterNav label={words.filter} flush>
          <Link href="/drift/why" aria-current={line === undefined ? "page" : undefined}>
            {words.allLines}
          </Link>
          {lines.map((key) => (
            <Link
              key={key}
              href={`/drift/why?line=${encodeURIComponent(key)}`}
              aria-current={line === key ? "page" : undefined}
            >
              {key}
            </Link>
          ))}
        </FilterNav>
        <div className={styles.sections}>
          <section>
            <SectionHeading aside={standsOut.aside}>{standsOut.heading}</SectionHeading>
            <DataTable
              caption={standsOut.table}
              captionHidden
              rowHead="when"
              rows={shifts.slice(0, MOST_ROWS)}
              rowKey={({ group, shiftAt }) => `${group} ${shiftAt}`}
              columns={shiftColumns(viewer.plantZone, places)}
              empty={<EmptyState title={standsOut.none}>{standsOut.noneHint}</EmptyState>}
            />
          </section>
          <section>
            <SectionHeading aside={differs.aside}>{differs.heading}</SectionHeading>
            <DataTable
              caption={differs.table}
              captionHidden
              rowHead="group"
              rows={groups.slice(0, MOST_ROWS)}
              rowKey={({ stream, factor, name }) => `${stream.id} ${factor} ${name}`}
              columns={groupColumns(places)}
              empty={<EmptyState title={differs.none}>{differs.noneHint}</EmptyState>}
            />
          </section>
          <p className={styles.person}>{words.person}</p>
        </div>
      </PageFrame>
    </WorkPage>
  );
}
