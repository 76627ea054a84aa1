"use client";

import { useState, useTransition, type FormEvent } from "react";
import type { ActionResult } from "@/lib/schemas/action-result";
import { Button } from "@/lib/ui/button";
import { ErrorNotice } from "@/lib/ui/error-notice";
import { StatusLine } from "@/lib/ui/status-line";
import { approveLimitsAction } from "../../../actions";
import styles from "../stream.module.css";

export type BaselineChoice = Readonly<{ key: string; label: string; detail: string; from?: string; to?: string }>;

/** Where an engineer approves limits: from which frames they are computed, then at once in force as a new version. */
export function LimitsForm({ streamId, choices }: Readonly<{ streamId: string; choices: readonly BaselineChoice[] }>) {
  const [result, setResult] = useState<ActionResult<{ frames: number }> | null>(null);
  const [isPending, startTransition] = useTransition();

  const handleSubmit = (event: FormEvent<HTMLFormElement>): void => {
    event.preventDefault();
    const chosen = choices.find((choice) => choice.key === new FormData(event.currentTarget).get("baseline"));
    if (!chosen) return;
    startTransition(async () => {
      setResult(
        await approveLimitsAction({
          streamId,
          ...(chosen.from === undefined ? {} : { from: chosen.from }),
          ...(chosen.to === undefined ? {} : { to: chosen.to }),
        }),
      );
    });
  };

  return (
    <form className={styles.limits} onSubmit={handleSubmit}>
      <fieldset>
        <legend>Baseline</legend>
        {choices.map((choice, index) => (
          <label key={choice.key}>
            <input type="radio" name="baseline" value={choice.key} defaultChecked={index === 0} />
            <b>{choice.label}</b>
            <small>{choice.detail}</small>
          </label>
        ))}
      </fieldset>
      <Button type="submit" disabled={isPending}>
        Compute and approve limits
      </Button>
      {result?.ok === false ? (
        <ErrorNotice title="No limits were approved" problems={result.error.fields ?? []}>
          <p>{result.error.message}</p>
        </ErrorNotice>
      ) : (
        <StatusLine>
          {result?.ok ? `In force from now on, from ${result.data.frames} frames; written in the journal.` : ""}
        </StatusLine>
      )}
    </form>
  );
}
