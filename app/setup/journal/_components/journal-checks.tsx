import Link from "next/link";
import { formatMoment } from "@/lib/format/date-text";
import { formatCount } from "@/lib/format/number-text";
import type { JournalCheck } from "@/lib/server/audit/journal-checks";
import { EntryForm } from "@/lib/ui/entry-form";
import { SectionHeading } from "@/lib/ui/page-frame";
import { StateMark } from "@/lib/ui/state-mark";
import { StatusLine } from "@/lib/ui/status-line";
import { askJournalCheckAction } from "../actions";
import { RECORD_WORDS } from "../../words/records";
import { FetchAgain } from "../../_components/fetch-again";
import styles from "./journal-checks.module.css";

const words = RECORD_WORDS.checks;

const SHOWN_FAULTS = 20;

function Running({ check }: Readonly<{ check: JournalCheck }>) {
  const { checked, entries } = check;
  return (
    <>
      <StatusLine progress={{ done: checked, of: Math.max(1, entries), label: words.entriesChecked }}>
        {entries === 0 ? words.waitsForWorker : words.ofChecked(formatCount(checked), entries)}
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
        <StateMark state="not proven" word={words.notChecked} size="s" /> {failure}
      </p>
    );
  const { faults, entries, rows, chains } = report;
  const extent = words.inVouchFor(entries, chains, rows);
  if (faults.length === 0)
    return (
      <p>
        <StateMark state="go" word={words.nothingFound} size="s" />{" "}
        {words.nothingWasAltered(
          extent,
          anchor === null ? words.entriesCutFromEnd : words.andAnchorIsIn(anchor.slice(0, 12)),
        )}
      </p>
    );
  return (
    <>
      <p>
        <StateMark state="stop" word={words.faults(faults.length)} size="s" /> {words.keepDatabaseAsIs(extent)}
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
        <p className="soft">
          {words.ofAreShownChecked(SHOWN_FAULTS, faults.length, formatMoment(check.askedAt, { zone }))}
        </p>
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
            ? words.notCheckedFromHereYet
            : words.asked(
                formatMoment(newest.askedAt, { zone }),
                newest.askedBy === null ? "" : words.byAskedBy(newest.askedBy),
              )
        }
      >
        {words.checkOfJournal}
      </SectionHeading>
      {newest === undefined ? null : isRunning ? <Running check={newest} /> : <Result check={newest} zone={zone} />}
      {mayAsk && !isRunning ? (
        <EntryForm
          inline
          fields={[
            {
              name: "anchor",
              label: words.anchorKeptOutsideIfAny,
              kind: "code",
              optional: true,
              hint: words.anchorHint,
            },
          ]}
          action={askJournalCheckAction}
          submit={words.checkJournal}
          done={words.askedResultStandsHere}
        />
      ) : null}
    </section>
  );
}
