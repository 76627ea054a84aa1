import type { Metadata } from "next";
import Link from "next/link";
import { z } from "zod";
import { formatMoment } from "@/lib/format/date-text";
import { journalAction, journalDetail } from "@/lib/format/journal-words";
import { formatCount } from "@/lib/format/number-text";
import { daySchema, momentSchema } from "@/lib/schemas/moment";
import { getJournal, type JournalItem, type JournalPage, type JournalPlace } from "@/lib/server/audit/journal-page";
import { listJournalChecks } from "@/lib/server/audit/journal-checks";
import { mayDo } from "@/lib/server/auth/permissions";
import { ButtonLink } from "@/lib/ui/button";
import { DataTable } from "@/lib/ui/data-table";
import { EmptyState } from "@/lib/ui/empty-state";
import { FilterNav } from "@/lib/ui/filter-nav";
import { journalLinks } from "@/lib/ui/journal-links";
import { SectionHeading } from "@/lib/ui/page-frame";
import { requireViewer } from "../../_components/work-page";
import { SetupPage } from "../_components/setup-page";
import { JournalChecks } from "./_components/journal-checks";
import { JournalSearch, type JournalQuery } from "./_components/journal-search";
import { RECORD_WORDS } from "../words/records";
import styles from "../setup.module.css";

const words = RECORD_WORDS.journal;

export const metadata: Metadata = { title: words.journal };

const day = daySchema.optional().catch(undefined);
const searchSchema = z.object({
  chain: z
    .string()
    .regex(/^[^\p{Cc}]{1,100}$/u)
    .optional()
    .catch(undefined),
  q: z.string().trim().min(1).max(100).optional().catch(undefined),
  who: z
    .string()
    .regex(/^(?:(?:person|token):[0-9a-f-]{36}|system)$/)
    .optional()
    .catch(undefined),
  from: day,
  to: day,
  before: z.string().max(200).optional().catch(undefined),
});

const placeSchema = z.tuple([momentSchema, z.string().min(1), z.string().regex(/^\d{1,18}$/)]);

/** A place in the list as the address has it: moment, chain and number. */
function placeOf(text: string | undefined): JournalPlace | undefined {
  const read = placeSchema.safeParse(text?.split("~"));
  if (!read.success) return undefined;
  const [at, chain, sequence] = read.data;
  return { at, chain, sequence };
}

const chainWords = (chain: string): string => words.chainWords[chain] ?? chain.replace(/^line:/, "line ");

function journalHref(query: JournalQuery, next?: JournalPlace): string {
  const search = new URLSearchParams();
  for (const [name, value] of Object.entries(query)) if (value !== undefined) search.set(name, value);
  if (next !== undefined) search.set("before", [next.at, next.chain, next.sequence].join("~"));
  return search.size === 0 ? "/setup/journal" : `/setup/journal?${search}`;
}

function ChainFilter({ journal, query }: Readonly<{ journal: JournalPage; query: JournalQuery }>) {
  const { chain, ...others } = query;
  return (
    <FilterNav label={words.filterByChain}>
      <Link href={journalHref(others)} aria-current={chain === undefined ? "page" : undefined}>
        {words.everything}
      </Link>
      {journal.chains.map((one) => (
        <Link
          key={one.chain}
          href={journalHref({ ...others, chain: one.chain })}
          aria-current={one.chain === chain ? "page" : undefined}
        >
          {chainWords(one.chain)} <small>{formatCount(one.length)}</small>
        </Link>
      ))}
    </FilterNav>
  );
}

/** What an entry says, and the records it leads to. */
function About({ entry }: Readonly<{ entry: JournalItem }>) {
  const detail = journalDetail(entry.payload, entry.about);
  const links = journalLinks(entry.action, entry.payload);
  return (
    <>
      {detail}
      {links.length === 0 ? null : (
        <span className={styles.leads}>
          {links.map(({ label, href }) => (
            <Link key={href} href={href}>
              {label}
            </Link>
          ))}
        </span>
      )}
    </>
  );
}

const headingOf = ({ chain, q, who, from, to }: JournalQuery, isOlder: boolean): string => {
  const found = q !== undefined || who !== undefined || from !== undefined || to !== undefined;
  const which = found ? words.entriesFound : words.newestEntries;
  return `${isOlder ? words.olderEntries : which}${chain === undefined ? "" : words.ofChain(chainWords(chain))}`;
};

export default async function JournalSheet({ searchParams }: PageProps<"/setup/journal">) {
  const viewer = await requireViewer("/setup/journal", "journal.view");
  const { before, ...query } = searchSchema.parse(await searchParams);
  const { chain, q, who, from, to } = query;
  const place = placeOf(before);
  const [journal, checks] = await Promise.all([
    getJournal(viewer, { chain, before: place, text: q, actor: who, from, to }),
    listJournalChecks(viewer),
  ]);
  const { plantZone: zone } = viewer;
  const { next, searchedTo } = journal;
  const further =
    next === null ? undefined : (
      <ButtonLink href={journalHref(query, next)}>
        {searchedTo === null ? words.olderEntries : words.searchFurtherBack}
      </ButtonLink>
    );
  return (
    <SetupPage
      viewer={viewer}
      current="journal"
      title={words.entriesEachTied(formatCount(journal.entries))}
      status={
        <ButtonLink href="/api/v1/journal/head" download>
          {words.saveNewestAnchor}
        </ButtonLink>
      }
      lead={words.lead}
    >
      <section className={styles.anchor}>
        <SectionHeading aside={journal.anchoredAt === null ? undefined : formatMoment(journal.anchoredAt, { zone })}>
          {words.newestAnchor}
        </SectionHeading>
        <p className={`mono ${styles.hash}`}>{journal.head ?? words.noneYet}</p>
        <p className="soft">{words.keepCopyOutside}</p>
      </section>
      <JournalChecks checks={checks} zone={zone} mayAsk={mayDo(viewer, "journal.verify")} />
      <SectionHeading>{headingOf(query, place !== undefined)}</SectionHeading>
      <ChainFilter journal={journal} query={query} />
      <JournalSearch query={query} actors={journal.actors} />
      <DataTable
        caption={words.newestEntriesOfJournal}
        captionHidden
        rowHead="action"
        columns={[
          {
            key: "at",
            label: words.time,
            cell: (entry) => <span className={styles.whole}>{formatMoment(entry.at, { zone })}</span>,
          },
          { key: "chain", label: words.chain, kind: "code", cell: (entry) => entry.chain },
          { key: "sequence", label: words.number, kind: "count", cell: (entry) => entry.sequence },
          { key: "action", label: words.what, cell: (entry) => journalAction(entry.action) },
          { key: "about", label: words.about, cell: (entry) => <About entry={entry} /> },
          { key: "actor", label: words.who, cell: (entry) => <span className={styles.whole}>{entry.actor}</span> },
          { key: "rows", label: words.rows, kind: "count", cell: (entry) => String(entry.rows) },
          { key: "hash", label: words.hash, kind: "code", cell: (entry) => entry.hash.slice(0, 12) },
        ]}
        rows={journal.newest}
        rowKey={(entry) => `${entry.chain} ${entry.sequence}`}
        count={searchedTo === null ? undefined : words.searchedBackTo(formatMoment(searchedTo, { zone }))}
        more={further}
        empty={
          <EmptyState
            title={journal.entries === 0 ? words.nothingHasBeenRecordedYet : words.noSuchEntryWasFound}
            keys={further}
          >
            {journal.entries === 0
              ? words.firstInspectionOrDecisionWrites
              : searchedTo === null
                ? words.tryLessOfName
                : words.searchedBackToSearchedTo(formatMoment(searchedTo, { zone }))}
          </EmptyState>
        }
      />
    </SetupPage>
  );
}
