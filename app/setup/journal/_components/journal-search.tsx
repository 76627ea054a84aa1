import type { JournalPage } from "@/lib/server/audit/journal-page";
import { Button, ButtonLink } from "@/lib/ui/button";
import { Field } from "@/lib/ui/field";
import { RECORD_WORDS } from "../../words/records";
import styles from "./journal-search.module.css";

const words = RECORD_WORDS.search;

/** What somebody asks of the journal, as the address has it. */
export type JournalQuery = Readonly<{
  chain?: string | undefined;
  q?: string | undefined;
  who?: string | undefined;
  from?: string | undefined;
  to?: string | undefined;
}>;

/** Narrows the journal down; the address carries it, so that a look can be sent to somebody. */
export function JournalSearch({ query, actors }: Readonly<{ query: JournalQuery; actors: JournalPage["actors"] }>) {
  const { chain, q, who, from, to } = query;
  const isNarrowed = q !== undefined || who !== undefined || from !== undefined || to !== undefined;
  return (
    <form className={styles.search} action="/setup/journal" role="search" aria-label={words.searchJournal}>
      {chain === undefined ? null : <input type="hidden" name="chain" value={chain} />}
      <Field id="journal-q" label={words.serialBatchGaugeName}>
        {(control) => <input {...control} name="q" type="search" maxLength={100} defaultValue={q ?? ""} />}
      </Field>
      <Field id="journal-who" label={words.who}>
        {(control) => (
          <select {...control} name="who" defaultValue={who ?? ""}>
            <option value="">{words.everybody}</option>
            <option value="system">{words.shellgateItself}</option>
            {actors.map(({ actor, name }) => (
              <option key={actor} value={actor}>
                {name}
              </option>
            ))}
          </select>
        )}
      </Field>
      <Field id="journal-from" label={words.fromDay}>
        {(control) => <input {...control} name="from" type="date" defaultValue={from ?? ""} />}
      </Field>
      <Field id="journal-to" label={words.toDay}>
        {(control) => <input {...control} name="to" type="date" defaultValue={to ?? ""} />}
      </Field>
      <p className={styles.keys}>
        <Button type="submit">{words.search}</Button>
        {isNarrowed ? (
          <ButtonLink
            href={chain === undefined ? "/setup/journal" : `/setup/journal?chain=${encodeURIComponent(chain)}`}
          >
            {words.showAll}
          </ButtonLink>
        ) : null}
      </p>
    </form>
  );
}
