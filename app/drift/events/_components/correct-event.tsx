"use client";

import { useId, useState } from "react";
import { uuidV7 } from "@/lib/schemas/identifier";
import { ActionAnswer } from "@/lib/ui/action-answer";
import { Button } from "@/lib/ui/button";
import { Field, Tick } from "@/lib/ui/field";
import { textOf, useAction } from "@/lib/ui/use-action";
import { correctEventAction } from "../actions";
import { EVENT_WORDS } from "../words";
import shared from "../../drift.module.css";
import styles from "../events.module.css";
import { EventFields, readEvent } from "./event-fields";

const words = EVENT_WORDS.correct;

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
  const correct = (fields: FormData, key: string) =>
    correctEventAction({
      id: key,
      eventId: event.id,
      reason: textOf(fields, "reason"),
      instead: wasDone ? { id: insteadId, ...readEvent(fields) } : null,
    });

  return (
    <details className={styles.correct}>
      <summary>{words.open}</summary>
      <form className={shared.form} onSubmit={submits(correct)}>
        <Tick
          control={
            <input type="checkbox" checked={!wasDone} onChange={(change) => setWasDone(!change.target.checked)} />
          }
        >
          {words.notDone}
        </Tick>
        {wasDone ? (
          <EventFields
            kindLabel={words.what}
            whenLabel={words.when}
            filled={{ kind: event.kind, subject: event.subject ?? "", at: shownAt, text: event.text }}
          />
        ) : null}
        <Field id={`${id}-reason`} look="framed" wide label={words.reason}>
          {(control) => <input {...control} name="reason" required minLength={3} maxLength={500} autoComplete="off" />}
        </Field>
        <Button type="submit" disabled={!isReady}>
          {words.submit}
        </Button>
        <div className={shared.answer}>
          <ActionAnswer result={result} refused={words.refused}>
            {words.done}
          </ActionAnswer>
        </div>
      </form>
    </details>
  );
}
