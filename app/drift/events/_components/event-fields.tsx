"use client";

import { useId } from "react";
import { EVENT_KINDS, type EventKind } from "@/lib/schemas/event";
import { Field } from "@/lib/ui/field";
import { textOf } from "@/lib/ui/use-action";
import { EVENT_WORDS } from "../words";

const words = EVENT_WORDS.form;

type EventFieldsProps = Readonly<{
  /** What the choice of the kind asks. */
  kindLabel: string;
  whenLabel: string;
  /** What is filled in before. `at` as the plant's clock shows it; it has to be given then. */
  filled?: Readonly<{
    kind?: string | undefined;
    subject?: string | undefined;
    at?: string | undefined;
    text?: string | undefined;
  }>;
}>;

/** What an event says of itself; `readEvent` reads it. */
export function EventFields({ kindLabel, whenLabel, filled = {} }: EventFieldsProps) {
  const id = useId();
  const isAtGiven = filled.at !== undefined;
  return (
    <>
      <Field id={`${id}-kind`} look="framed" label={kindLabel}>
        {(control) => (
          <select {...control} name="kind" defaultValue={filled.kind ?? "reamer changed"}>
            {EVENT_KINDS.map((kind) => (
              <option key={kind}>{kind}</option>
            ))}
          </select>
        )}
      </Field>
      <Field id={`${id}-subject`} look="framed" label={words.which}>
        {(control) => (
          <input
            {...control}
            name="subject"
            maxLength={64}
            autoComplete="off"
            placeholder={words.whichExample}
            defaultValue={filled.subject}
          />
        )}
      </Field>
      <Field id={`${id}-at`} look="framed" label={whenLabel}>
        {(control) => (
          <input
            {...control}
            name="at"
            type="datetime-local"
            step={isAtGiven ? 1 : undefined}
            required={isAtGiven}
            defaultValue={filled.at}
          />
        )}
      </Field>
      <Field id={`${id}-text`} look="framed" wide label={words.words}>
        {(control) => (
          <input {...control} name="text" required maxLength={500} autoComplete="off" defaultValue={filled.text} />
        )}
      </Field>
    </>
  );
}

/** What the fields say, as the actions take it. */
export function readEvent(fields: FormData) {
  const subject = textOf(fields, "subject");
  return {
    kind: textOf(fields, "kind") as EventKind,
    when: textOf(fields, "at"),
    text: textOf(fields, "text"),
    ...(subject === "" ? {} : { subject }),
  };
}
