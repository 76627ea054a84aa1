import type { Metadata } from "next";
import Link from "next/link";
import { formatMoment } from "@/lib/format/date-text";
import { formatMoney } from "@/lib/format/number-text";
import { type CostOfDecision, type CostOfMonth, readOwnCosts } from "@/lib/server/gate/own-costs";
import { ButtonLink } from "@/lib/ui/button";
import { DataTable, type TableColumn } from "@/lib/ui/data-table";
import { EmptyState } from "@/lib/ui/empty-state";
import { keepWhole } from "@/lib/ui/keep-whole";
import { PageFrame, PageHead, SectionHeading } from "@/lib/ui/page-frame";
import { requireViewer, WorkPage } from "../../_components/work-page";
import { COSTS_WORDS } from "../costs-words";

const words = COSTS_WORDS;

export const metadata: Metadata = { title: words.title };

const MONTHS: readonly TableColumn<CostOfMonth>[] = [
  { key: "month", label: words.month, cell: ({ month }) => month },
  { key: "decisions", label: words.decisions, kind: "count", cell: ({ decisions }) => decisions },
  { key: "frames", label: words.frames, kind: "count", cell: ({ frames }) => frames },
  { key: "cost", label: words.cost, kind: "numeric", cell: ({ cost }) => formatMoney(cost) },
  { key: "without", label: words.without, kind: "count", cell: ({ without }) => without },
];

function decisionColumns(zone: string): readonly TableColumn<CostOfDecision>[] {
  return [
    {
      key: "batch",
      label: words.batch,
      kind: "code",
      cell: ({ batch }) =>
        batch === null ? null : (
          <Link href={`/gate/batches/${encodeURIComponent(batch)}`} prefetch={false}>
            {batch}
          </Link>
        ),
    },
    { key: "what", label: words.what, cell: ({ kind }) => kind.replaceAll("_", " ") },
    { key: "frames", label: words.frames, kind: "count", cell: ({ frames }) => frames },
    { key: "reason", label: words.reason, cell: ({ grounds }) => keepWhole(grounds) },
    {
      key: "cost",
      label: words.cost,
      kind: "numeric",
      cell: ({ cost }) => (cost === null ? words.notEntered : formatMoney(cost)),
    },
    {
      key: "signed",
      label: words.signed,
      cell: ({ person, at }) => keepWhole(`${person}, ${formatMoment(at, { zone })}`),
    },
  ];
}

export default async function OwnCostsPage() {
  const viewer = await requireViewer("/gate/costs", "gate.view");
  const { months, decisions } = await readOwnCosts(viewer);
  const sum = (of: (month: CostOfMonth) => number) => months.reduce((total, month) => total + of(month), 0);
  const count = sum((month) => month.decisions);
  return (
    <WorkPage viewer={viewer} current="gate">
      <PageFrame
        head={
          <PageHead
            title={words.headline(
              sum(({ cost }) => cost),
              count,
            )}
            lead={
              count === 0
                ? words.none
                : words.lead(
                    count,
                    sum(({ frames }) => frames),
                    sum(({ without }) => without),
                  )
            }
            status={<ButtonLink href="/gate">{words.backToGate}</ButtonLink>}
          />
        }
      >
        {count === 0 ? (
          <EmptyState title={words.headline(0, 0)}>{words.none}</EmptyState>
        ) : (
          <>
            <SectionHeading>{words.byMonth}</SectionHeading>
            <DataTable
              caption={words.byMonth}
              captionHidden
              rowHead="month"
              columns={MONTHS}
              rows={months}
              rowKey={({ month }) => month}
            />
            <SectionHeading>{words.newest}</SectionHeading>
            <DataTable
              caption={words.newest}
              captionHidden
              rowHead="batch"
              columns={decisionColumns(viewer.plantZone)}
              rows={decisions}
              rowKey={({ id }) => id}
            />
          </>
        )}
      </PageFrame>
    </WorkPage>
  );
}
