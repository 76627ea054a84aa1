import type { JournalPage } from "@/lib/server/audit/journal-page";
import { Button, ButtonLink } from "@/lib/ui/button";
import { Field } from "@/lib/ui/field";
import styles from "./journal-search.module.css";

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
    <form className={styles.search} action="/setup/journal" role="search" aria-label="Search the journal">
      {chain === undefined ? null : <input type="hidden" name="chain" value={chain} />}
      <Field id="journal-q" label="serial, batch, gauge, name or word">
        {(control) => <input {...control} name="q" type="search" maxLength={100} defaultValue={q ?? ""} />}
      </Field>
      <Field id="journal-who" label="who">
        {(control) => (
          <select {...control} name="who" defaultValue={who ?? ""}>
            <option value="">everybody</option>
            <option value="system">Shellgate itself</option>
            {actors.map(({ actor, name }) => (
              <option key={actor} value={actor}>
                {name}
              </option>
            ))}
          </select>
        )}
      </Field>
      <Field id="journal-from" label="from day">
        {(control) => <input {...control} name="from" type="date" defaultValue={from ?? ""} />}
      </Field>
      <Field id="journal-to" label="to day">
        {(control) => <input {...control} name="to" type="date" defaultValue={to ?? ""} />}
      </Field>
      <p className={styles.keys}>
        <Button type="submit">Search</Button>
        {isNarrowed ? (
          <ButtonLink
            href={chain === undefined ? "/setup/journal" : `/setup/journal?chain=${encodeURIComponent(chain)}`}
          >
            Show all
          </ButtonLink>
        ) : null}
      </p>
    </form>
  );
}
