import Link from "next/link";
import { formatMoment } from "@/lib/format/date-text";
import { formatCount, formatCounted } from "@/lib/format/number-text";
import type { JournalCheck } from "@/lib/server/audit/journal-checks";
import { EntryForm } from "@/lib/ui/entry-form";
import { SectionHeading } from "@/lib/ui/page-frame";
import { StateMark } from "@/lib/ui/state-mark";
import { StatusLine } from "@/lib/ui/status-line";
import { askJournalCheckAction } from "../actions";
import { FetchAgain } from "./fetch-again";
import styles from "./journal-checks.module.css";

const SHOWN_FAULTS = 20;

function Running({ check }: Readonly<{ check: JournalCheck }>) {
  const { checked, entries } = check;
  return (
    <>
      <StatusLine progress={{ done: checked, of: Math.max(1, entries), label: "entries checked" }}>
        {entries === 0
          ? "waits for the worker"
          : `${formatCount(checked)} of ${formatCounted(entries, "entry", "entries")} checked`}
      </StatusLine>
      <FetchAgain />
    </>
  );
}

function Result({ check, zone }: Readonly<{ check: JournalCheck; zone: string }>) {
  const { report, failure, anchor } = check;
  if (report === null)
    return (
      <p>
        <StateMark state="not proven" word="not checked" size="s" /> {failure}
      </p>
    );
  const { faults, entries, rows, chains } = report;
  const extent = `${formatCounted(entries, "entry", "entries")} in ${formatCounted(chains, "chain")} vouch for ${formatCounted(rows, "row")}.`;
  if (faults.length === 0)
    return (
      <p>
        <StateMark state="go" word="nothing found" size="s" /> {extent} Nothing was altered, removed or put elsewhere
        {anchor === null
          ? ". Entries cut from the end are detected only against an anchor kept outside."
          : `, and the anchor ${anchor.slice(0, 12)}… is in it.`}
      </p>
    );
  return (
    <>
      <p>
        <StateMark state="stop" word={formatCounted(faults.length, "fault")} size="s" /> {extent} Keep the database as
        it is, and let somebody look who was not near it.
      </p>
      <ul className={styles.faults}>
        {faults.slice(0, SHOWN_FAULTS).map((fault) => (
          <li key={`${fault.chain} ${fault.sequence} ${fault.what}`}>
            {fault.chain === "-" ? null : (
              <Link href={`/setup/journal?chain=${encodeURIComponent(fault.chain)}`} className="mono">
                {fault.chain}
                {fault.sequence === null ? "" : ` ${fault.sequence}`}
              </Link>
            )}{" "}
            {fault.what}
          </li>
        ))}
      </ul>
      {faults.length > SHOWN_FAULTS ? (
        <p className="soft">{`${SHOWN_FAULTS} of ${faults.length} are shown; checked ${formatMoment(check.askedAt, { zone })}.`}</p>
      ) : null}
    </>
  );
}

/** What checks of the whole journal said, and the form that asks for one. */
export function JournalChecks({
  checks,
  zone,
  mayAsk,
}: Readonly<{ checks: readonly JournalCheck[]; zone: string; mayAsk: boolean }>) {
  const [newest] = checks;
  if (newest === undefined && !mayAsk) return null;
  const isRunning = newest?.endedAt === null;
  return (
    <section className={styles.checks}>
      <SectionHeading
        aside={
          newest === undefined
            ? "not checked from here yet"
            : `asked ${formatMoment(newest.askedAt, { zone })}${newest.askedBy === null ? "" : ` by ${newest.askedBy}`}`
        }
      >
        Check of the journal
      </SectionHeading>
      {newest === undefined ? null : isRunning ? <Running check={newest} /> : <Result check={newest} zone={zone} />}
      {mayAsk && !isRunning ? (
        <EntryForm
          inline
          fields={[
            {
              name: "anchor",
              label: "anchor kept outside, if any",
              kind: "code",
              optional: true,
              hint: "64 letters and digits, from an earlier visit",
            },
          ]}
          action={askJournalCheckAction}
          submit="Check the journal"
          done="Asked. The result stands here when it is done."
        />
      ) : null}
    </section>
  );
}
