"use client";

import { useActionState } from "react";
import { Button } from "@/lib/ui/button";
import { ErrorNotice } from "@/lib/ui/error-notice";
import { withdrawInspectionAction } from "../../actions";
import styles from "../frame.module.css";

/** Takes an inspection out of the verdict; the row itself stays. */
export function WithdrawForm({ id }: Readonly<{ id: string }>) {
  const [result, submit, isPending] = useActionState(withdrawInspectionAction, null);
  return (
    <form action={submit} className={styles.withdraw}>
      <input type="hidden" name="id" value={id} />
      <label>
        <span>Withdraw it, because</span>
        <input name="reason" required minLength={3} maxLength={500} autoComplete="off" />
      </label>
      <Button type="submit" disabled={isPending}>
        Withdraw this inspection
      </Button>
      {result?.ok === false ? (
        <ErrorNotice title="Not withdrawn">
          <p>{result.error.message}</p>
        </ErrorNotice>
      ) : null}
    </form>
  );
}
