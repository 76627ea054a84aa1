"use client";

import { useId } from "react";
import type { AddEvent } from "@/lib/schemas/decision";
import { ActionAnswer } from "@/lib/ui/action-answer";
import { Button } from "@/lib/ui/button";
import { Field } from "@/lib/ui/field";
import { textOf, useAction } from "@/lib/ui/use-action";
import { addEventAction } from "../../../actions";
import styles from "../stream.module.css";

const KINDS = ["reamer changed", "fixture shimmed", "mould cleaned", "gauge checked", "other"] as const;

/** What people did, so that the chart can show it: a reamer changed, a fixture shimmed. */
export function EventForm({ lineId, line }: Readonly<{ lineId: string; line: string }>) {
  const id = useId();
  const { result, isReady, submits } = useAction<null>();
  const enter = (fields: FormData, key: string) => {
    const subject = textOf(fields, "subject");
    return addEventAction({
      id: key,
      lineId,
      kind: textOf(fields, "kind") as AddEvent["kind"],
      when: textOf(fields, "at"),
      text: textOf(fields, "text"),
      ...(subject === "" ? {} : { subject }),
    });
  };

  return (
    <form className={styles.form} onSubmit={submits(enter, (form) => form.reset())}>
      <Field id={`${id}-kind`} look="framed" label={`what was done on ${line}`}>
        {(control) => (
          <select {...control} name="kind" defaultValue="reamer changed">
            {KINDS.map((kind) => (
              <option key={kind}>{kind}</option>
            ))}
          </select>
        )}
      </Field>
      <Field id={`${id}-subject`} look="framed" label="which one">
        {(control) => (
          <input {...control} name="subject" maxLength={64} autoComplete="off" placeholder="R46-11, FX-2" />
        )}
      </Field>
      <Field id={`${id}-at`} look="framed" label="when, by the plant&rsquo;s clock; empty is now">
        {(control) => <input {...control} name="at" type="datetime-local" />}
      </Field>
      <Field id={`${id}-text`} look="framed" wide label="in a few words">
        {(control) => <input {...control} name="text" required maxLength={500} autoComplete="off" />}
      </Field>
      <Button type="submit" disabled={!isReady}>
        Enter the event
      </Button>
      <div className={styles.answer}>
        <ActionAnswer result={result} refused="The event was not entered">
          Entered; it stands on the time axis of every stream of the line.
        </ActionAnswer>
      </div>
    </form>
  );
}
