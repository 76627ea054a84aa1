"use client";

import { useState, useTransition, type FormEvent } from "react";
import type { ActionResult } from "@/lib/schemas/action-result";
import type { AddEvent } from "@/lib/schemas/decision";
import { uuidV7 } from "@/lib/schemas/identifier";
import { Button } from "@/lib/ui/button";
import { ErrorNotice } from "@/lib/ui/error-notice";
import { StatusLine } from "@/lib/ui/status-line";
import { addEventAction } from "../../../actions";
import styles from "../stream.module.css";

const KINDS = ["reamer changed", "fixture shimmed", "mould cleaned", "gauge checked", "other"] as const;

/** What people did, so that the chart can show it: a reamer changed, a fixture shimmed. */
export function EventForm({ lineId, line }: Readonly<{ lineId: string; line: string }>) {
  const [id, setId] = useState<string | null>(null);
  const [result, setResult] = useState<ActionResult<null> | null>(null);
  const [isPending, startTransition] = useTransition();

  const handleSubmit = (event: FormEvent<HTMLFormElement>): void => {
    event.preventDefault();
    const form = event.currentTarget;
    const fields = new FormData(form);
    const text = (name: string) => String(fields.get(name) ?? "").trim();
    // The same key until it was kept: a second press after a lost answer changes nothing.
    const key = id ?? uuidV7();
    setId(key);
    const when = text("at");
    startTransition(async () => {
      const answer = await addEventAction({
        id: key,
        lineId,
        kind: text("kind") as AddEvent["kind"],
        when,
        text: text("text"),
        ...(text("subject") === "" ? {} : { subject: text("subject") }),
      });
      setResult(answer);
      if (!answer.ok) return;
      setId(null);
      form.reset();
    });
  };

  return (
    <form className={styles.form} onSubmit={handleSubmit}>
      <label className={styles.field}>
        <span>what was done on {line}</span>
        <select name="kind" defaultValue="reamer changed">
          {KINDS.map((kind) => (
            <option key={kind}>{kind}</option>
          ))}
        </select>
      </label>
      <label className={styles.field}>
        <span>which one</span>
        <input name="subject" maxLength={64} autoComplete="off" placeholder="R46-11, FX-2" />
      </label>
      <label className={styles.field}>
        <span>when, by the plant&rsquo;s clock; empty is now</span>
        <input name="at" type="datetime-local" />
      </label>
      <label className={`${styles.field} ${styles.wide}`}>
        <span>in a few words</span>
        <input name="text" required maxLength={500} autoComplete="off" />
      </label>
      <Button type="submit" disabled={isPending}>
        Enter the event
      </Button>
      <div className={styles.answer}>
        {result?.ok === false ? (
          <ErrorNotice title="The event was not entered" problems={result.error.fields ?? []}>
            <p>{result.error.message}</p>
          </ErrorNotice>
        ) : (
          <StatusLine>
            {result?.ok ? "Entered; it stands on the time axis of every stream of the line." : ""}
          </StatusLine>
        )}
      </div>
    </form>
  );
}
