"use client";

import { useState } from "react";
import { ActionAnswer } from "@/lib/ui/action-answer";
import { Button } from "@/lib/ui/button";
import { useAction } from "@/lib/ui/use-action";
import { approveLimitsAction } from "../../../actions";
import { STREAM_WORDS } from "../../words";
import styles from "../stream.module.css";

const words = STREAM_WORDS.limitsForm;

export type BaselineChoice = Readonly<{ key: string; label: string; detail: string; from?: string; to?: string }>;

/** Where an engineer approves limits: from which frames they are computed, then at once in force as a new version. */
export function LimitsForm({ streamId, choices }: Readonly<{ streamId: string; choices: readonly BaselineChoice[] }>) {
  const [chosen, setChosen] = useState(choices[0]);
  const { result, isReady, submits } = useAction<{ frames: number }>();
  return (
    <form
      className={styles.limits}
      onSubmit={submits(() =>
        approveLimitsAction({
          streamId,
          ...(chosen?.from === undefined ? {} : { from: chosen.from }),
          ...(chosen?.to === undefined ? {} : { to: chosen.to }),
        }),
      )}
    >
      <fieldset>
        <legend>{words.baseline}</legend>
        {choices.map((choice) => (
          <label key={choice.key}>
            <input type="radio" name="baseline" checked={choice === chosen} onChange={() => setChosen(choice)} />
            <b>{choice.label}</b>
            <small>{choice.detail}</small>
          </label>
        ))}
      </fieldset>
      <Button type="submit" disabled={!isReady || chosen === undefined}>
        {words.computeAndApproveLimits}
      </Button>
      <ActionAnswer result={result} refused={words.noLimitsWereApproved}>
        {result?.ok ? words.inForceFromNowOn(result.data.frames) : ""}
      </ActionAnswer>
    </form>
  );
}
