"use client";

import { useId, useState } from "react";
import { EVENT_KINDS, type EventKind } from "@/lib/schemas/event";
import { uuidV7 } from "@/lib/schemas/identifier";
import { ActionAnswer } from "@/lib/ui/action-answer";
import { Button } from "@/lib/ui/button";
import { Field, Tick } from "@/lib/ui/field";
import { textOf, useAction } from "@/lib/ui/use-action";
import { correctEventAction } from "../actions";
import { EVENT_WORDS } from "../words";
import styles from "../events.module.css";

const words = EVENT_WORDS.correct;
const shared = EVENT_WORDS.form;

type CorrectEventProps = Readonly<{
  event: Readonly<{ id: string; kind: string; subject: string | null; text: string }>;
  /** When it was entered to have been, as the plant's clock shows it: "2026-06-05T14:30:00". */
  shownAt: string;
}>;

/** An event that was entered wrong: what was done in truth, or that nothing was. The first entry stays on the record. */
export function CorrectEvent({ event, shownAt }: CorrectEventProps) {
  const id = useId();
  const { result, isReady, submits } = useAction<null>();
  const [wasDone, setWasDone] = useState(true);
  const [insteadId] = useState(uuidV7);
  const correct = (fields: FormData, key: string) => {
    const subject = textOf(fields, "subject");
    return correctEventAction({
      id: key,
      eventId: event.id,
      reason: textOf(fields, "reason"),
      instead: wasDone
        ? {
            id: insteadId,
            kind: textOf(fields, "kind") as EventKind,
            when: textOf(fields, "at"),
            text: textOf(fields, "text"),
            ...(subject === "" ? {} : { subject }),
          }
        : null,
    });
  };

  return (
    <details className={styles.correct}>
      <summary>{words.open}</summary>
      <form className={styles.form} onSubmit={submits(correct)}>
        <Tick
          control={
            <input type="checkbox" checked={!wasDone} onChange={(change) => setWasDone(!change.target.checked)} />
          }
        >
          {words.notDone}
        </Tick>
        {wasDone ? (
          <>
            <Field id={`${id}-kind`} look="framed" label={words.what}>
              {(control) => (
                <select {...control} name="kind" defaultValue={event.kind}>
                  {EVENT_KINDS.map((kind) => (
                    <option key={kind}>{kind}</option>
                  ))}
                </select>
              )}
            </Field>
            <Field id={`${id}-subject`} look="framed" label={shared.which}>
              {(control) => (
                <input
                  {...control}
                  name="subject"
                  maxLength={64}
                  autoComplete="off"
                  defaultValue={event.subject ?? ""}
                />
              )}
            </Field>
            <Field id={`${id}-at`} look="framed" label={words.when}>
              {(control) => (
                <input {...control} name="at" type="datetime-local" step={1} required defaultValue={shownAt} />
              )}
            </Field>
            <Field id={`${id}-text`} look="framed" wide label={shared.words}>
              {(control) => (
                <input {...control} name="text" required maxLength={500} autoComplete="off" defaultValue={event.text} />
              )}
            </Field>
          </>
        ) : null}
        <Field id={`${id}-reason`} look="framed" wide label={words.reason}>
          {(control) => <input {...control} name="reason" required minLength={3} maxLength={500} autoComplete="off" />}
        </Field>
        <Button type="submit" disabled={!isReady}>
          {words.submit}
        </Button>
        <div className={styles.answer}>
          <ActionAnswer result={result} refused={words.refused}>
            {words.done}
          </ActionAnswer>
        </div>
      </form>
    </details>
  );
}
