import type { Metadata } from "next";
import Link from "next/link";
import { z } from "zod";
import { formatMoment } from "@/lib/format/date-text";
import { journalAction, journalDetail } from "@/lib/format/journal-words";
import { formatCount } from "@/lib/format/number-text";
import { getJournal, type JournalPage } from "@/lib/server/audit/journal-page";
import { ButtonLink } from "@/lib/ui/button";
import { DataTable } from "@/lib/ui/data-table";
import { EmptyState } from "@/lib/ui/empty-state";
import { FilterNav } from "@/lib/ui/filter-nav";
import { SectionHeading } from "@/lib/ui/page-frame";
import { requireViewer } from "../../_components/work-page";
import { SetupPage } from "../_components/setup-page";
import styles from "../setup.module.css";

export const metadata: Metadata = { title: "Journal" };

const searchSchema = z.object({
  chain: z
    .string()
    .regex(/^[^\p{Cc}]{1,100}$/u)
    .optional()
    .catch(undefined),
  before: z.coerce.number().int().positive().optional().catch(undefined),
});

const CHAIN_WORDS: Readonly<Record<string, string>> = {
  access: "sign-ins and tokens",
  gate: "gate",
  gauges: "gauges",
  people: "people",
  samples: "samples",
  setup: "setup",
};

const chainWords = (chain: string): string => CHAIN_WORDS[chain] ?? chain.replace(/^line:/, "line ");

function journalHref(chain: string | undefined, before?: string): string {
  const search = new URLSearchParams();
  if (chain !== undefined) search.set("chain", chain);
  if (before !== undefined) search.set("before", before);
  return search.size === 0 ? "/setup/journal" : `/setup/journal?${search}`;
}

function ChainFilter({ journal, chain }: Readonly<{ journal: JournalPage; chain: string | undefined }>) {
  return (
    <FilterNav label="Filter by chain">
      <Link href={journalHref(undefined)} aria-current={chain === undefined ? "page" : undefined}>
        everything
      </Link>
      {journal.chains.map((one) => (
        <Link key={one.chain} href={journalHref(one.chain)} aria-current={one.chain === chain ? "page" : undefined}>
          {chainWords(one.chain)} <small>{formatCount(one.length)}</small>
        </Link>
      ))}
    </FilterNav>
  );
}

export default async function JournalSheet({ searchParams }: PageProps<"/setup/journal">) {
  const viewer = await requireViewer("/setup/journal", "journal.view");
  const { chain, before } = searchSchema.parse(await searchParams);
  const journal = await getJournal(viewer, { chain, before });
  const { plantZone: zone } = viewer;
  const oldest = chain === undefined ? undefined : journal.newest.at(-1)?.sequence;
  return (
    <SetupPage
      viewer={viewer}
      current="journal"
      title={`${formatCount(journal.entries)} entries, each tied to the one before`}
      status={
        <ButtonLink href="/api/v1/journal/head" download>
          Save the newest anchor
        </ButtonLink>
      }
      lead="Nothing in it changes or goes. Each entry vouches for its rows by their hash; npm run verify-journal checks all of it."
    >
      <section className={styles.anchor}>
        <SectionHeading aside={journal.anchoredAt === null ? undefined : formatMoment(journal.anchoredAt, { zone })}>
          Newest anchor
        </SectionHeading>
        <p className={`mono ${styles.hash}`}>
          {journal.head ?? "none yet: the first is written within a minute of the first entry"}
        </p>
        <p className="soft">
          Keep a copy outside, on paper or in another system: only against such a copy does a cut end show.{" "}
          <code>npm run verify-journal -- --anchor HASH</code>
        </p>
      </section>
      <SectionHeading>
        {before === undefined ? "Newest entries" : `Entries before ${before}`}
        {chain === undefined ? "" : ` of ${chainWords(chain)}`}
      </SectionHeading>
      <ChainFilter journal={journal} chain={chain} />
      <DataTable
        caption="Newest entries of the journal"
        captionHidden
        rowHead="action"
        columns={[
          {
            key: "at",
            label: "time",
            cell: (entry) => <span className={styles.whole}>{formatMoment(entry.at, { zone })}</span>,
          },
          { key: "chain", label: "chain", kind: "code", cell: (entry) => entry.chain },
          { key: "sequence", label: "number", kind: "count", cell: (entry) => entry.sequence },
          { key: "action", label: "what", cell: (entry) => journalAction(entry.action) },
          { key: "about", label: "about", cell: (entry) => journalDetail(entry.payload, entry.about) },
          { key: "actor", label: "who", cell: (entry) => <span className={styles.whole}>{entry.actor}</span> },
          { key: "rows", label: "rows", kind: "count", cell: (entry) => String(entry.rows) },
          { key: "hash", label: "hash", kind: "code", cell: (entry) => entry.hash.slice(0, 12) },
        ]}
        rows={journal.newest}
        rowKey={(entry) => `${entry.chain} ${entry.sequence}`}
        more={
          oldest === undefined || oldest === "1" ? undefined : (
            <ButtonLink href={journalHref(chain, oldest)}>Older entries</ButtonLink>
          )
        }
        empty={
          <EmptyState title={chain === undefined ? "Nothing has been recorded yet" : "There is no such entry"}>
            The first inspection or decision writes the first entry.
          </EmptyState>
        }
      />
    </SetupPage>
  );
}
