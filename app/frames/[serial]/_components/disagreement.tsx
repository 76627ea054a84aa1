"use client";

import { useState, useTransition, type FormEvent } from "react";
import type { ActionResult } from "@/lib/schemas/action-result";
import { uuidV7 } from "@/lib/schemas/identifier";
import { Button } from "@/lib/ui/button";
import { ErrorNotice } from "@/lib/ui/error-notice";
import { StatusLine } from "@/lib/ui/status-line";
import { resolveDisagreementAction } from "../../actions";
import styles from "../frame.module.css";

type DisagreementProps = Readonly<{
  serial: string;
  inspections: readonly Readonly<{ id: string; label: string; verdict: string }>[];
  mayDecide: boolean;
}>;

/** Where somebody who keyed none of them signs which of the inspections that disagree count. */
export function Disagreement({ serial, inspections, mayDecide }: DisagreementProps) {
  const [aside, setAside] = useState<ReadonlySet<string>>(() => new Set());
  const [result, setResult] = useState<ActionResult<unknown> | null>(null);
  const [isPending, startTransition] = useTransition();

  const toggle = (id: string): void => {
    const next = new Set(aside);
    if (!next.delete(id)) next.add(id);
    setAside(next);
  };

  const handleSubmit = (event: FormEvent<HTMLFormElement>): void => {
    event.preventDefault();
    const fields = new FormData(event.currentTarget);
    startTransition(async () => {
      const answer = await resolveDisagreementAction({
        id: uuidV7(),
        serial,
        setAside: [...aside],
        grounds: String(fields.get("grounds") ?? ""),
        password: String(fields.get("password") ?? ""),
      });
      setResult(answer);
    });
  };

  if (!mayDecide)
    return <p>The frame is held until one of them is withdrawn, or somebody who keyed none of them decides.</p>;
  return (
    <form className={`${styles.disagreement} noPrint`} onSubmit={handleSubmit}>
      <fieldset>
        <legend>Set aside what does not count</legend>
        {inspections.map(({ id, label, verdict }) => (
          <label key={id}>
            <input type="checkbox" checked={aside.has(id)} onChange={() => toggle(id)} />
            <span>
              {label} <small>alone: {verdict}</small>
            </span>
          </label>
        ))}
      </fieldset>
      <p>All others count, and judge the frame. Both stay on the record. Who keyed one of them cannot sign.</p>
      <label className={styles.signed}>
        <span>grounds</span>
        <input name="grounds" required minLength={3} maxLength={2000} autoComplete="off" />
      </label>
      <label className={styles.signed}>
        <span>your password, as signature</span>
        <input name="password" type="password" required maxLength={128} autoComplete="current-password" />
      </label>
      <Button type="submit" disabled={isPending || aside.size === 0 || aside.size === inspections.length}>
        Sign which inspections count
      </Button>
      {result?.ok === false ? (
        <ErrorNotice title="Not signed" problems={result.error.fields ?? []}>
          <p>{result.error.message}</p>
        </ErrorNotice>
      ) : (
        <StatusLine>{result?.ok ? "Signed and recorded in the journal." : ""}</StatusLine>
      )}
    </form>
  );
}
