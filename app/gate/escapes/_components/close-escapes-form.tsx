"use client";

import { useId, useState } from "react";
import { ActionAnswer } from "@/lib/ui/action-answer";
import { Button } from "@/lib/ui/button";
import { Choices, Field, Tick } from "@/lib/ui/field";
import { SignatureFields, signatureOf } from "@/lib/ui/signature-fields";
import { textOf, useAction } from "@/lib/ui/use-action";
import { closeEscapesAction } from "../../actions";
import { GATE_WORDS } from "../../words";
import styles from "../escapes.module.css";

const words = GATE_WORDS.escapes;

type ClosableGroup = Readonly<{ key: string; label: string; escapes: readonly string[] }>;

/** Closes what belongs together: who was told, what was done, and the signature. Nothing is chosen before. */
export function CloseEscapesForm({ groups }: Readonly<{ groups: readonly ClosableGroup[] }>) {
  const [chosen, setChosen] = useState<ReadonlySet<string>>(new Set());
  const id = useId();
  const { result, isReady, submits } = useAction<null>();
  const escapes = groups.filter(({ key }) => chosen.has(key)).flatMap((group) => group.escapes);

  const toggle = (key: string): void => {
    const next = new Set(chosen);
    if (!next.delete(key)) next.add(key);
    setChosen(next);
  };

  return (
    <form
      className={styles.form}
      onSubmit={submits(
        (fields, key) => closeEscapesAction({ id: key, escapes, told: textOf(fields, "told"), ...signatureOf(fields) }),
        (form) => {
          form.reset();
          setChosen(new Set());
        },
      )}
    >
      <h2>{words.closing}</h2>
      <Choices legend={words.whichOnes} hint={words.whatWasDone}>
        {groups.map(({ key, label }) => (
          <Tick key={key} control={<input type="checkbox" checked={chosen.has(key)} onChange={() => toggle(key)} />}>
            {label}
          </Tick>
        ))}
      </Choices>
      <div className={styles.signature}>
        <Field id={`${id}-told`} look="framed" label={words.whoWasTold}>
          {(control) => <input {...control} name="told" required minLength={3} maxLength={500} autoComplete="off" />}
        </Field>
        <SignatureFields />
        <Button type="submit" kind="go" disabled={!isReady || escapes.length === 0}>
          {escapes.length === 0 ? words.chooseFirst : words.sign(words.framesOf(escapes.length))}
        </Button>
      </div>
      <ActionAnswer result={result} refused={words.notClosed}>
        {words.closed}
      </ActionAnswer>
    </form>
  );
}
