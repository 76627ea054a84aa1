"use client";

import { useId } from "react";
import type { EventKind } from "@/lib/schemas/event";
import { ActionAnswer } from "@/lib/ui/action-answer";
import { Button } from "@/lib/ui/button";
import { Field } from "@/lib/ui/field";
import { textOf, useAction } from "@/lib/ui/use-action";
import { addEventAction } from "../actions";
import { EVENT_WORDS } from "../words";
import shared from "../../drift.module.css";
import { EventFields, readEvent } from "./event-fields";

const words = EVENT_WORDS.form;

export type EventLine = Readonly<{ id: string; key: string }>;

type EventFormProps = Readonly<{
  /** Lines to choose from; one alone is not asked for. */
  lines: readonly EventLine[];
  /** What is filled in before, as by a code at a machine. */
  filled?: Readonly<{ line?: string | undefined; kind?: EventKind | undefined; subject?: string | undefined }>;
}>;

/** What people did, so that the chart can show it: a reamer changed, a fixture shimmed. */
export function EventForm({ lines, filled = {} }: EventFormProps) {
  const id = useId();
  const { result, isReady, submits } = useAction<null>();
  const [only] = lines;
  const isAsked = lines.length !== 1;
  const enter = (fields: FormData, key: string) => {
    const lineId = isAsked ? textOf(fields, "line") : (only?.id ?? "");
    return addEventAction({
      id: key,
      ...(lineId === "" ? {} : { lineId }),
      ...readEvent(fields),
    });
  };

  return (
    <form className={shared.form} onSubmit={submits(enter, (form) => form.reset())}>
      {isAsked ? (
        <Field id={`${id}-line`} look="framed" label={words.whichLine}>
          {(control) => (
            <select {...control} name="line" defaultValue={lines.find(({ key }) => key === filled.line)?.id ?? ""}>
              <option value="">{words.every}</option>
              {lines.map((line) => (
                <option key={line.id} value={line.id}>
                  {line.key}
                </option>
              ))}
            </select>
          )}
        </Field>
      ) : null}
      <EventFields
        kindLabel={isAsked ? words.whatWasDoneAnywhere : words.whatWasDone(only?.key ?? "")}
        whenLabel={words.when}
        filled={filled}
      />
      <Button type="submit" disabled={!isReady}>
        {words.submit}
      </Button>
      <div className={shared.answer}>
        <ActionAnswer result={result} refused={words.refused}>
          {words.done}
        </ActionAnswer>
      </div>
    </form>
  );
}
