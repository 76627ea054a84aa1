"use client";

import { useId } from "react";
import { ActionAnswer } from "@/lib/ui/action-answer";
import { Button } from "@/lib/ui/button";
import { Field } from "@/lib/ui/field";
import { textOf, useAction } from "@/lib/ui/use-action";
import { withdrawInspectionAction } from "../../actions";
import { FRAME_WORDS } from "../../words";
import styles from "../frame.module.css";

const words = FRAME_WORDS.withdraw;

/** Takes an inspection out of the verdict; the row itself stays. */
export function WithdrawForm({ id }: Readonly<{ id: string }>) {
  const field = useId();
  const { result, isReady, submits } = useAction<unknown>();
  return (
    <form
      className={styles.withdraw}
      onSubmit={submits((fields) => withdrawInspectionAction({ id, reason: textOf(fields, "reason") }))}
    >
      <Field id={field} label={words.withdrawBecause}>
        {(control) => <input {...control} name="reason" required minLength={3} maxLength={500} autoComplete="off" />}
      </Field>
      <Button type="submit" disabled={!isReady}>
        {words.withdrawInspection}
      </Button>
      <ActionAnswer result={result} refused={words.notWithdrawn} />
    </form>
  );
}
