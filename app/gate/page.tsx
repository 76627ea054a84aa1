import type { Metadata } from "next";
import Link from "next/link";
import { z } from "zod";
import { formatDay } from "@/lib/format/date-text";
import { formatCounted } from "@/lib/format/number-text";
import { mayDo } from "@/lib/server/auth/permissions";
import { listBatches, type BatchGateState, type BatchListItem } from "@/lib/server/gate/queries";
import { getPlantZone } from "@/lib/server/setup/queries";
import { ButtonLink } from "@/lib/ui/button";
import { DataTable } from "@/lib/ui/data-table";
import { EmptyState } from "@/lib/ui/empty-state";
import { PageFrame, PageHead, SectionHeading } from "@/lib/ui/page-frame";
import { StateMark } from "@/lib/ui/state-mark";
import { requireViewer, WorkPage } from "../_components/work-page";
import styles from "./gate.module.css";

export const metadata: Metadata = { title: "Gate" };

const searchSchema = z.object({
  state: z.enum(["open", "held", "clear", "gone"]).optional().catch(undefined),
  line: z.string().max(64).optional().catch(undefined),
});

const STATE_WORDS = {
  held: { mark: "held", word: "held" },
  open: { mark: "in measurement", word: "being measured" },
  clear: { mark: "go", word: "may ship" },
  gone: { mark: "shipped", word: "gone" },
} as const satisfies Record<BatchGateState, { mark: string; word: string }>;

const FILTERS: readonly { state: BatchGateState | undefined; label: string }[] = [
  { state: undefined, label: "all" },
  { state: "held", label: "held" },
  { state: "open", label: "being measured" },
  { state: "clear", label: "may ship" },
  { state: "gone", label: "gone" },
];

function headline(batches: readonly BatchListItem[]): string {
  const held = batches.filter((batch) => batch.state === "held").length;
  if (held === 0) return "No batch is held";
  return held === 1 ? "One batch is held" : `${held} batches are held`;
}

function rowOf(batch: BatchListItem, zone: string) {
  const { counts } = batch;
  const { mark, word } = STATE_WORDS[batch.state];
  return {
    key: batch.id,
    cells: {
      batch: (
        <Link className={styles.code} href={`/gate/batches/${encodeURIComponent(batch.key)}`}>
          {batch.key}
        </Link>
      ),
      state: <StateMark state={mark} word={word} />,
      why: batch.firstReason ?? (batch.state === "open" ? `${counts.unmeasured} not measured yet` : ""),
      supplier: batch.supplier,
      line: batch.line,
      frames: String(batch.frames),
      conforms: String(counts.conforms),
      bad: String(counts.notConforming),
      doubt: String(counts.notProven),
      left: String(counts.unmeasured + counts.notMeasured),
      shipped: String(counts.shipped),
      opened: formatDay(batch.openedAt, { zone }),
    },
  };
}

export default async function GatePage({ searchParams }: PageProps<"/gate">) {
  const viewer = await requireViewer("/gate");
  const filter = searchSchema.parse(await searchParams);
  const [all, zone] = await Promise.all([listBatches(viewer, { line: filter.line }), getPlantZone(viewer)]);
  const shown = all.filter((batch) => filter.state === undefined || batch.state === filter.state);
  return (
    <WorkPage viewer={viewer} current="gate">
      <PageFrame
        head={
          <PageHead
            title={headline(all)}
            lead="A batch holds by itself when its evidence is against it, and opens only by a signed decision."
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
        <SectionHeading aside={formatCounted(shown.length, "batch", "batches")}>Batches</SectionHeading>
        <nav className={styles.filters} aria-label="Filter by state">
          {FILTERS.map(({ state, label }) => (
            <Link
              key={label}
              href={state === undefined ? "/gate" : `/gate?state=${state}`}
              aria-current={filter.state === state ? "page" : undefined}
            >
              {label}{" "}
              <small>{state === undefined ? all.length : all.filter((batch) => batch.state === state).length}</small>
            </Link>
          ))}
        </nav>
        <DataTable
          caption="Batches, held ones first"
          captionHidden
          rowHead="batch"
          columns={[
            { key: "batch", label: "batch", kind: "code" },
            { key: "state", label: "state" },
            { key: "why", label: "why" },
            { key: "supplier", label: "supplier" },
            { key: "line", label: "line", kind: "code" },
            { key: "frames", label: "frames", kind: "numeric" },
            { key: "conforms", label: "conform", kind: "numeric" },
            { key: "bad", label: "do not", kind: "numeric" },
            { key: "doubt", label: "not proven", kind: "numeric" },
            { key: "left", label: "no result", kind: "numeric" },
            { key: "shipped", label: "shipped", kind: "numeric" },
            { key: "opened", label: "opened" },
          ]}
          rows={shown.map((batch) => rowOf(batch, zone))}
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
