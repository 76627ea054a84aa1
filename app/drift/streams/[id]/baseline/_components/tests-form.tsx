"use client";

import { useId } from "react";
import { CHOSEN_TESTS, type ChosenTest } from "@/lib/core/control/alarm/chosen-test";
import { ActionAnswer } from "@/lib/ui/action-answer";
import { Button } from "@/lib/ui/button";
import { Choices, Field, Tick } from "@/lib/ui/field";
import { textOf, useAction } from "@/lib/ui/use-action";
import { chooseTestsAction } from "../actions";
import { BASELINE_WORDS } from "../words";
import styles from "../baseline.module.css";

const words = BASELINE_WORDS.tests;

/** Chooses tests beside those of the scheme. */
export function TestsForm({
  streamId,
  versionSeen,
  chosen,
}: Readonly<{ streamId: string; versionSeen: number; chosen: readonly ChosenTest[] }>) {
  const id = useId();
  const { result, isReady, submits } = useAction<{ version: number }>();
  return (
    <form
      className={styles.form}
      onSubmit={submits((fields) =>
        chooseTestsAction({
          streamId,
          versionSeen,
          tests: CHOSEN_TESTS.filter((test) => fields.getAll("tests").includes(test)),
          reason: textOf(fields, "reason"),
        }),
      )}
    >
      <Choices legend={words.choose}>
        {CHOSEN_TESTS.map((test) => (
          <Tick
            key={test}
            control={<input type="checkbox" name="tests" value={test} defaultChecked={chosen.includes(test)} />}
          >
            {words.names[test]}
          </Tick>
        ))}
      </Choices>
      <div className={styles.fields}>
        <Field id={`${id}-reason`} look="framed" label={words.reason}>
          {(control) => <input {...control} name="reason" required minLength={3} maxLength={2000} autoComplete="off" />}
        </Field>
        <Button type="submit" disabled={!isReady}>
          {words.button}
        </Button>
      </div>
      <ActionAnswer result={result} refused={words.refused}>
        {result?.ok ? words.done(result.data.version) : ""}
      </ActionAnswer>
    </form>
  );
}
