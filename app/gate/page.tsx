import type { Metadata } from "next";
import Link from "next/link";
import { z } from "zod";
import { formatDay } from "@/lib/format/date-text";
import { formatCounted } from "@/lib/format/number-text";
import { mayDo } from "@/lib/server/auth/permissions";
import { countBatches, listBatches, type BatchGateState, type BatchListItem } from "@/lib/server/gate/queries";
import { ButtonLink } from "@/lib/ui/button";
import { DataTable, type TableColumn } from "@/lib/ui/data-table";
import { EmptyState } from "@/lib/ui/empty-state";
import { FilterNav } from "@/lib/ui/filter-nav";
import { PageFrame, PageHead, SectionHeading } from "@/lib/ui/page-frame";
import { StateMark } from "@/lib/ui/state-mark";
import { requireViewer, WorkPage } from "../_components/work-page";
import styles from "./gate.module.css";

export const metadata: Metadata = { title: "Gate" };

const searchSchema = z.object({
  state: z.enum(["here", "open", "held", "clear", "gone"]).catch("here"),
  line: z.string().max(64).optional().catch(undefined),
});

const STATE_WORDS = {
  held: { mark: "held", word: "held" },
  open: { mark: "in measurement", word: "being measured" },
  clear: { mark: "go", word: "may ship" },
  gone: { mark: "shipped", word: "closed" },
} as const satisfies Record<BatchGateState, { mark: string; word: string }>;

type Filter = z.infer<typeof searchSchema>;

const FILTERS: readonly { state: Filter["state"]; label: string }[] = [
  { state: "here", label: "in the plant" },
  { state: "held", label: "held" },
  { state: "open", label: "being measured" },
  { state: "clear", label: "may ship" },
  { state: "gone", label: "closed" },
];

function headline(batches: readonly BatchListItem[]): string {
  const held = batches.filter((batch) => batch.state === "held").length;
  if (held === 0) return "No batch is held";
  return held === 1 ? "One batch is held" : `${held} batches are held`;
}

/** Batches that left are looked up, not looked through: they show only when asked for. */
function isIn(state: Filter["state"], batch: BatchListItem): boolean {
  return state === "here" ? batch.state !== "gone" : batch.state === state;
}

function filterHref(state: Filter["state"], line: string | undefined): string {
  const search = new URLSearchParams();
  if (state !== "here") search.set("state", state);
  if (line !== undefined) search.set("line", line);
  return search.size === 0 ? "/gate" : `/gate?${search}`;
}

/** A nought says nothing needs looking at: it stays quiet. */
function tally(count: number) {
  return count === 0 ? <span className={styles.nought}>0</span> : count;
}

/** A column of noughts would take the room of the reasons. */
function columnsOf(zone: string, shown: readonly BatchListItem[]): readonly TableColumn<BatchListItem>[] {
  const isShipped = shown.some(({ counts }) => counts.shipped > 0);
  const count = (key: string, label: string, of: (batch: BatchListItem) => number): TableColumn<BatchListItem> => ({
    key,
    label,
    kind: "count",
    cell: (batch) => tally(of(batch)),
  });
  return [
    {
      key: "batch",
      label: "batch",
      kind: "code",
      cell: ({ key }) => (
        <Link className={styles.code} href={`/gate/batches/${encodeURIComponent(key)}`}>
          {key}
        </Link>
      ),
    },
    {
      key: "state",
      label: "state",
      cell: ({ state }) => <StateMark state={STATE_WORDS[state].mark} word={STATE_WORDS[state].word} />,
    },
    {
      key: "why",
      label: "why",
      cell: ({ firstReason, state, counts }) => (
        <span className={styles.why}>
          {firstReason ?? (state === "open" ? `${counts.unmeasured} not measured yet` : "")}
        </span>
      ),
    },
    { key: "supplier", label: "supplier", cell: ({ supplier }) => supplier },
    {
      key: "line",
      label: "line",
      kind: "code",
      cell: ({ line }) => (
        <Link className={styles.code} href={filterHref("here", line)} prefetch={false}>
          {line}
        </Link>
      ),
    },
    { key: "frames", label: "frames", kind: "count", cell: ({ frames }) => frames },
    count("conforms", "conform", ({ counts }) => counts.conforms),
    count("bad", "nonconforming", ({ counts }) => counts.notConforming),
    count("doubt", "not proven", ({ counts }) => counts.notProven),
    count("left", "no result", ({ counts }) => counts.unmeasured + counts.notMeasured),
    ...(isShipped ? [count("shipped", "shipped", ({ counts }) => counts.shipped)] : []),
    {
      key: "opened",
      label: "opened",
      cell: ({ openedAt }) => <span className={styles.day}>{formatDay(openedAt, { zone })}</span>,
    },
  ];
}

export default async function GatePage({ searchParams }: PageProps<"/gate">) {
  const viewer = await requireViewer("/gate", "gate.view");
  const { state, line } = searchSchema.parse(await searchParams);
  const { plantZone: zone } = viewer;
  const [all, total] = await Promise.all([listBatches(viewer, { line }), countBatches(viewer, { line })]);
  const shown = all.filter((batch) => isIn(state, batch));
  const listedHere = all.filter((batch) => isIn("here", batch)).length;
  /** Of what is not listed in full the number is that of all; what else there is shows in the heading. */
  const countOf = (of: Filter["state"]): number =>
    of === "gone" ? total.gone : of === "here" ? total.here : all.filter((batch) => isIn(of, batch)).length;
  const among = state === "gone" ? total.gone : total.here;
  const listed = state === "gone" ? shown.length : listedHere;
  return (
    <WorkPage viewer={viewer} current="gate">
      <PageFrame
        head={
          <PageHead
            title={headline(all)}
            lead="A batch is held automatically when its evidence is against it; only a signed decision releases it."
            status={
              mayDo(viewer, "gate.ship") ? (
                <ButtonLink href="/gate/ship" kind="go">
                  Ship scan
                </ButtonLink>
              ) : null
            }
          />
        }
      >
        <SectionHeading
          aside={
            listed < among
              ? `the newest ${listed} of ${formatCounted(among, "batch", "batches")}; search finds the others`
              : formatCounted(shown.length, "batch", "batches")
          }
        >
          Batches{line === undefined ? "" : ` of line ${line}`}
        </SectionHeading>
        <FilterNav label="Filter by state">
          {FILTERS.map((one) => (
            <Link
              key={one.state}
              href={filterHref(one.state, line)}
              aria-current={one.state === state ? "page" : undefined}
            >
              {one.label} <small>{countOf(one.state)}</small>
            </Link>
          ))}
          {line === undefined ? null : <Link href={filterHref(state, undefined)}>every line</Link>}
        </FilterNav>
        <DataTable
          caption="Batches, held ones first"
          captionHidden
          rowHead="batch"
          columns={columnsOf(zone, shown)}
          rows={shown}
          rowKey={({ id }) => id}
          empty={
            <EmptyState title={all.length === 0 ? "There is no batch yet" : "No batch is in this state"}>
              {all.length === 0
                ? "Enter a batch with its serials under Setup; it appears here with its first frame."
                : "Choose another state above."}
            </EmptyState>
          }
        />
      </PageFrame>
    </WorkPage>
  );
}
