import type { Metadata } from "next";
import Link from "next/link";
import { z } from "zod";
import { formatDay } from "@/lib/format/date-text";
import { mayDo } from "@/lib/server/auth/permissions";
import { countBatches, listBatches, type BatchGateState, type BatchListItem } from "@/lib/server/gate/queries";
import { countEscapes } from "@/lib/server/gate/escapes";
import { ButtonLink } from "@/lib/ui/button";
import { DataTable, type TableColumn } from "@/lib/ui/data-table";
import { EmptyState } from "@/lib/ui/empty-state";
import { FilterNav } from "@/lib/ui/filter-nav";
import { PageFrame, PageHead, SectionHeading } from "@/lib/ui/page-frame";
import { StateMark } from "@/lib/ui/state-mark";
import { requireViewer, WorkPage } from "../_components/work-page";
import { GATE_WORDS } from "./words";
import styles from "./gate.module.css";

const words = GATE_WORDS.batches;

export const metadata: Metadata = { title: words.gate };

const searchSchema = z.object({
  state: z.enum(["here", "open", "held", "clear", "gone"]).catch("here"),
  line: z.string().max(64).optional().catch(undefined),
});

const STATE_WORDS = {
  held: { mark: "held", word: words.held },
  open: { mark: "in measurement", word: words.beingMeasured },
  clear: { mark: "go", word: words.mayShip },
  gone: { mark: "shipped", word: words.closed },
} as const satisfies Record<BatchGateState, { mark: string; word: string }>;

type Filter = z.infer<typeof searchSchema>;

const FILTERS: readonly { state: Filter["state"]; label: string }[] = [
  { state: "here", label: words.inPlant },
  { state: "held", label: words.held },
  { state: "open", label: words.beingMeasured },
  { state: "clear", label: words.mayShip },
  { state: "gone", label: words.closed },
];

function headline(batches: readonly BatchListItem[]): string {
  return words.batchesHeld(batches.filter((batch) => batch.state === "held").length);
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
      label: words.batch,
      kind: "code",
      cell: ({ key }) => (
        <Link className={styles.code} href={`/gate/batches/${encodeURIComponent(key)}`}>
          {key}
        </Link>
      ),
    },
    {
      key: "state",
      label: words.state,
      cell: ({ state }) => <StateMark state={STATE_WORDS[state].mark} word={STATE_WORDS[state].word} />,
    },
    {
      key: "why",
      label: words.why,
      cell: ({ firstReason, state, counts }) => (
        <span className={styles.why}>
          {firstReason ?? (state === "open" ? words.notMeasuredYet(counts.unmeasured) : "")}
        </span>
      ),
    },
    { key: "supplier", label: words.supplier, cell: ({ supplier }) => supplier },
    {
      key: "line",
      label: words.line,
      kind: "code",
      cell: ({ line }) => (
        <Link className={styles.code} href={filterHref("here", line)} prefetch={false}>
          {line}
        </Link>
      ),
    },
    { key: "frames", label: words.frames, kind: "count", cell: ({ frames }) => frames },
    count("conforms", "conform", ({ counts }) => counts.conforms),
    count("bad", "nonconforming", ({ counts }) => counts.notConforming),
    count("doubt", "not proven", ({ counts }) => counts.notProven),
    count("left", words.noResult, ({ counts }) => counts.unmeasured + counts.notMeasured),
    ...(isShipped ? [count("shipped", "shipped", ({ counts }) => counts.shipped)] : []),
    {
      key: "opened",
      label: words.opened,
      cell: ({ openedAt }) => <span className={styles.day}>{formatDay(openedAt, { zone })}</span>,
    },
  ];
}

export default async function GatePage({ searchParams }: PageProps<"/gate">) {
  const viewer = await requireViewer("/gate", "gate.view");
  const { state, line } = searchSchema.parse(await searchParams);
  const { plantZone: zone } = viewer;
  const [all, total, escapes] = await Promise.all([
    listBatches(viewer, { line }),
    countBatches(viewer, { line }),
    countEscapes(viewer),
  ]);
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
            lead={words.lead}
            status={
              <>
                <ButtonLink href="/gate/sampling" kind="quiet">
                  {words.sampling}
                </ButtonLink>
                <ButtonLink href="/gate/costs" kind="quiet">
                  {words.ownCauses}
                </ButtonLink>
                {mayDo(viewer, "gate.ship") ? (
                  <ButtonLink href="/gate/ship" kind="go">
                    {words.shipScan}
                  </ButtonLink>
                ) : null}
              </>
            }
          />
        }
      >
        {escapes > 0 ? (
          <p className={styles.escapes}>
            <StateMark state="does not conform" size="s" wordBeside />{" "}
            <Link href="/gate/escapes">{words.shippedInDoubt(escapes)}</Link>
          </p>
        ) : null}
        <SectionHeading aside={listed < among ? words.newestOfAll(listed, among) : words.batches(shown.length)}>
          {words.batchesOf(line)}
        </SectionHeading>
        <FilterNav label={words.filterByState}>
          {FILTERS.map((one) => (
            <Link
              key={one.state}
              href={filterHref(one.state, line)}
              aria-current={one.state === state ? "page" : undefined}
            >
              {one.label} <small>{countOf(one.state)}</small>
            </Link>
          ))}
          {line === undefined ? null : <Link href={filterHref(state, undefined)}>{words.everyLine}</Link>}
        </FilterNav>
        <DataTable
          caption={words.batchesHeldOnesFirst}
          captionHidden
          rowHead="batch"
          columns={columnsOf(zone, shown)}
          rows={shown}
          rowKey={({ id }) => id}
          empty={
            <EmptyState title={all.length === 0 ? words.isNoBatchYet : words.noBatchIsInState}>
              {all.length === 0 ? words.enterBatchWithSerials : words.chooseAnotherStateAbove}
            </EmptyState>
          }
        />
      </PageFrame>
    </WorkPage>
  );
}
