"use client";

import { useEffect, useRef } from "react";
import type { ActionResult } from "@/lib/schemas/action-result";
import { ActionAnswer } from "@/lib/ui/action-answer";
import { Button } from "@/lib/ui/button";
import { Field } from "@/lib/ui/field";
import { useAction } from "@/lib/ui/use-action";
import { STUDY_WORDS } from "../words";
import styles from "./study.module.css";

const words = STUDY_WORDS.keying;

type Asked = Readonly<{ place: number; part: string; number: number; of: number }>;

/** One reading after the other: a number, Enter, the next part. Earlier values are never shown. */
export function StudyKeying({
  study,
  unit,
  asked,
  action,
}: Readonly<{
  study: string;
  unit: string;
  asked: Asked;
  action: (previous: null, form: FormData) => Promise<ActionResult<unknown>>;
}>) {
  const { result, error, isReady, submits } = useAction<unknown>();
  const input = useRef<HTMLInputElement>(null);
  useEffect(() => {
    if (isReady) input.current?.focus();
  }, [asked.place, isReady]);
  return (
    <form
      className={styles.keying}
      onSubmit={submits(
        (form, key) => {
          form.set("id", key);
          return action(null, form);
        },
        (form) => form.reset(),
      )}
    >
      <input type="hidden" name="study" value={study} />
      <input type="hidden" name="place" value={asked.place} />
      <p className={styles.asked}>
        {words.part(asked.part)} <small>{words.reading(asked.number, asked.of)}</small>
      </p>
      <Field
        id="value"
        label={words.shows}
        unit={unit}
        problem={error?.fields?.find(({ path }) => path === "value")?.message}
      >
        {(control) => (
          <input {...control} ref={input} name="value" type="text" inputMode="decimal" autoComplete="off" required />
        )}
      </Field>
      <Button type="submit" kind="go" disabled={!isReady}>
        {words.keep}
      </Button>
      <ActionAnswer result={result} refused={words.notKept} unmarked={[]}>
        {words.kept}
      </ActionAnswer>
    </form>
  );
}
