import type { Metadata } from "next";
import { formatMoment } from "@/lib/format/date-text";
import { formatCount } from "@/lib/format/number-text";
import { getJournal, getPlantZone } from "@/lib/server/setup/queries";
import { ButtonLink } from "@/lib/ui/button";
import { DataTable } from "@/lib/ui/data-table";
import { EmptyState } from "@/lib/ui/empty-state";
import { SectionHeading } from "@/lib/ui/page-frame";
import { requireViewer } from "../../_components/work-page";
import { SetupPage } from "../_components/setup-page";
import styles from "../setup.module.css";

export const metadata: Metadata = { title: "Journal" };

export default async function JournalPage() {
  const viewer = await requireViewer("/setup/journal", "journal.view");
  const [journal, zone] = await Promise.all([getJournal(viewer), getPlantZone(viewer)]);
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
      <SectionHeading>Newest entries</SectionHeading>
      <DataTable
        caption="Newest entries of the journal"
        captionHidden
        columns={[
          { key: "at", label: "time" },
          { key: "chain", label: "chain", kind: "code" },
          { key: "sequence", label: "number", kind: "numeric" },
          { key: "action", label: "what" },
          { key: "actor", label: "who" },
          { key: "rows", label: "rows", kind: "numeric" },
          { key: "hash", label: "hash", kind: "code" },
        ]}
        rows={journal.newest.map((entry) => ({
          key: `${entry.chain} ${entry.sequence}`,
          cells: {
            at: formatMoment(entry.at, { zone }),
            chain: entry.chain,
            sequence: entry.sequence,
            action: entry.action.replaceAll(/[.-]/g, " "),
            actor: entry.actor.replace(/^system:/, ""),
            rows: String(entry.rows),
            hash: entry.hash.slice(0, 12),
          },
        }))}
        empty={
          <EmptyState title="Nothing has been recorded yet">
            The first inspection or decision writes the first entry.
          </EmptyState>
        }
      />
    </SetupPage>
  );
}
