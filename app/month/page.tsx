import type { Metadata } from "next";
import Link from "next/link";
import { z } from "zod";
import { formatDay, formatMoment } from "@/lib/format/date-text";
import { formatCount, formatFixed, formatMoney, formatPercent } from "@/lib/format/number-text";
import { type FirstFailure, type FirstPass, type MonthPage, readMonth } from "@/lib/server/today/month";
import { ButtonLink } from "@/lib/ui/button";
import { DataTable, type TableColumn } from "@/lib/ui/data-table";
import { EmptyState } from "@/lib/ui/empty-state";
import { FilterNav } from "@/lib/ui/filter-nav";
import { keepWhole } from "@/lib/ui/keep-whole";
import { PageFrame, PageHead, SectionHeading } from "@/lib/ui/page-frame";
import { type MarkedState, StateMark } from "@/lib/ui/state-mark";
import { requireViewer, WorkPage } from "../_components/work-page";
import { MONTH_WORDS as words } from "./words";
import styles from "./month.module.css";

export const metadata: Metadata = { title: words.title };

const searchSchema = z.object({ line: z.string().max(64).optional().catch(undefined) });

const MARKED: Readonly<Record<string, MarkedState>> = {
  "does not conform": "does not conform",
  "not proven": "not proven",
};

const LINE_COLUMNS: readonly TableColumn<FirstPass>[] = [
  {
    key: "line",
    label: words.line,
    kind: "code",
    cell: ({ line }) => <Link href={`/month?line=${encodeURIComponent(line)}`}>{line}</Link>,
  },
  { key: "operation", label: words.operation, cell: ({ operation }) => operation },
  { key: "measured", label: words.measured, kind: "count", cell: ({ measured }) => formatCount(measured) },
  { key: "passed", label: words.passed, kind: "count", cell: ({ passed }) => formatCount(passed) },
  { key: "share", label: words.share, kind: "count", cell: ({ measured, passed }) => formatPercent(passed / measured) },
  {
    key: "interval",
    label: words.interval,
    cell: ({ lower, upper }) => `${formatPercent(lower)} to ${formatPercent(upper)}`,
  },
];

function failureColumns(zone: string): readonly TableColumn<FirstFailure>[] {
  return [
    {
      key: "frame",
      label: words.frame,
      kind: "code",
      cell: ({ serial }) => (
        <Link href={`/frames/${encodeURIComponent(serial)}`} prefetch={false}>
          {serial}
        </Link>
      ),
    },
    {
      key: "verdict",
      label: words.verdict,
      cell: ({ verdict }) => <StateMark state={MARKED[verdict] ?? "not measured"} word={verdict} />,
    },
    {
      key: "batch",
      label: words.batch,
      kind: "code",
      cell: ({ batch }) => (
        <Link href={`/gate/batches/${encodeURIComponent(batch)}`} prefetch={false}>
          {batch}
        </Link>
      ),
    },
    { key: "line", label: words.line, kind: "code", cell: ({ line }) => line },
    { key: "operation", label: words.operation, cell: ({ operation }) => operation },
    { key: "when", label: words.when, cell: ({ measuredAt }) => keepWhole(formatMoment(measuredAt, { zone })) },
  ];
}

function headlineOf({ all }: MonthPage): string {
  if (all === null) return words.none;
  return words.headline(formatPercent(all.passed / all.measured), formatPercent(all.lower), formatPercent(all.upper));
}

function Rest({ held, cost, cases }: MonthPage) {
  return (
    <ul className={styles.rest}>
      {held === null ? null : (
        <li>
          <Link href="/gate?state=held">
            {held.frames === 0
              ? words.noneHeld
              : words.held(words.frames(held.frames), words.hours(formatFixed(held.hours, 0)))}
          </Link>
        </li>
      )}
      {cost === null ? null : (
        <li>
          <Link href="/gate/costs">
            {cost.decisions === 0
              ? words.noCost
              : words.cost(formatMoney(cost.ours), formatMoney(cost.supplier), cost.decisions)}
          </Link>
        </li>
      )}
      {cases === null ? null : (
        <li>
          <Link href="/drift">{words.cases(cases.opened, cases.unfounded, formatFixed(cases.borne, 1))}</Link>
        </li>
      )}
    </ul>
  );
}

export default async function MonthlyPage({ searchParams }: PageProps<"/month">) {
  const viewer = await requireViewer("/month", "records.view");
  const { line } = searchSchema.parse(await searchParams);
  const { plantZone: zone } = viewer;
  const page = await readMonth(viewer, line ?? null);
  const lines = [...new Set(page.lines.map((one) => one.line))];
  return (
    <WorkPage viewer={viewer} current="today">
      <PageFrame
        head={
          <PageHead
            title={headlineOf(page)}
            lead={words.lead(formatDay(`${page.from}T12:00:00Z`, { zone }))}
            status={<ButtonLink href="/">{words.toToday}</ButtonLink>}
          />
        }
      >
        {page.lines.length === 0 ? null : (
          <section>
            <SectionHeading aside={words.linesAside}>{words.lines}</SectionHeading>
            <DataTable
              caption={words.lines}
              captionHidden
              rowHead="line"
              columns={LINE_COLUMNS}
              rows={page.lines}
              rowKey={(one) => `${one.line} ${one.operation}`}
            />
          </section>
        )}
        <section className={styles.section}>
          <SectionHeading>{words.other}</SectionHeading>
          <Rest {...page} />
        </section>
        <section className={styles.section}>
          <SectionHeading aside={words.failuresAside(page.failures.length, page.failed)}>
            {words.failures}
          </SectionHeading>
          <FilterNav label={words.filter}>
            <Link href="/month" aria-current={line === undefined ? "page" : undefined}>
              {words.everyLine}
            </Link>
            {lines.map((one) => (
              <Link
                key={one}
                href={`/month?line=${encodeURIComponent(one)}`}
                aria-current={one === line ? "page" : undefined}
              >
                {one}
              </Link>
            ))}
          </FilterNav>
          <DataTable
            caption={words.failures}
            captionHidden
            rowHead="frame"
            columns={failureColumns(zone)}
            rows={page.failures}
            rowKey={(one) => `${one.serial} ${one.operation}`}
            empty={<EmptyState title={words.noFailure}>{words.noFailureHint}</EmptyState>}
          />
        </section>
      </PageFrame>
    </WorkPage>
  );
}
