"use client";

import { useState, useTransition, type FormEvent } from "react";
import { formatCounted } from "@/lib/format/number-text";
import type { FrameState } from "@/lib/quality/frame-state";
import type { ActionResult } from "@/lib/schemas/action-result";
import { uuidV7 } from "@/lib/schemas/identifier";
import { Button } from "@/lib/ui/button";
import { ErrorNotice } from "@/lib/ui/error-notice";
import { StatusLine } from "@/lib/ui/status-line";
import { acceptSampleRiskAction, decideFramesAction, releaseBatchAction } from "../../../actions";
import styles from "../batch.module.css";

type DecidableFrame = Readonly<{ serial: string; state: FrameState; verdict: string | null; preselected: boolean }>;

type DecisionFormProps = Readonly<{
  batchId: string;
  version: number;
  held: boolean;
  mayConcede: boolean;
  /** Unmeasured frames are held by what the measured ones were found to be. */
  atRisk: boolean;
  openReasons: number;
  frames: readonly DecidableFrame[];
}>;

const counted = (count: number): string => formatCounted(count, "frame");

const CHOICES = [
  { value: "return_to_supplier", label: "Return to supplier", detail: "with its evidence" },
  { value: "rework", label: "Rework", detail: "then measured again" },
  { value: "concession", label: "Concession", detail: "needs an end" },
  { value: "scrap", label: "Scrap", detail: "cannot be taken back" },
  { value: "release", label: "Release frames", detail: "not on bad evidence" },
  { value: "risk", label: "Sign for the unmeasured frames", detail: "with the risk in the reason above" },
  { value: "batch", label: "Release the batch", detail: "not while a reason stands" },
] as const;
type Choice = (typeof CHOICES)[number]["value"];

const GROUPS = [
  { verdict: "does not conform", label: "all that do not conform" },
  { verdict: "not proven", label: "all not proven" },
] as const;

const WORST_FIRST: readonly (string | null)[] = ["does not conform", "not proven", null, "not measured", "conforms"];

/** What needs a decision comes first, each group in the order of the batch. */
function worstFirst(frames: readonly DecidableFrame[]): DecidableFrame[] {
  return frames.toSorted((a, b) => WORST_FIRST.indexOf(a.verdict) - WORST_FIRST.indexOf(b.verdict));
}

/** Chooses a whole group at once, or none. */
function PickKeys({
  frames,
  onPick,
}: Readonly<{ frames: readonly DecidableFrame[]; onPick: (serials: readonly string[]) => void }>) {
  const groups = GROUPS.map(({ verdict, label }) => ({
    label,
    serials: frames.filter((frame) => frame.verdict === verdict).map((frame) => frame.serial),
  })).filter(({ serials }) => serials.length > 0);
  return (
    <div className={styles.pick}>
      Choose
      {groups.map(({ label, serials }) => (
        <Button key={label} kind="quiet" onClick={() => onPick(serials)}>
          {label}
        </Button>
      ))}
      <Button kind="quiet" onClick={() => onPick([])}>
        none
      </Button>
    </div>
  );
}

/** Where a person signs: frames, what is done with them, on what grounds, and the password. */
export function DecisionForm({ batchId, version, held, mayConcede, atRisk, openReasons, frames }: DecisionFormProps) {
  const [choice, setChoice] = useState<Choice>(held && openReasons === 0 ? "batch" : "return_to_supplier");
  const [chosen, setChosen] = useState<ReadonlySet<string>>(
    () => new Set(frames.filter((frame) => frame.preselected).map((frame) => frame.serial)),
  );
  const [result, setResult] = useState<ActionResult<unknown> | null>(null);
  const [isPending, startTransition] = useTransition();
  const ofBatch = choice === "batch" || choice === "risk";

  const toggle = (serial: string): void => {
    const next = new Set(chosen);
    if (!next.delete(serial)) next.add(serial);
    setChosen(next);
  };

  const handleSubmit = (event: FormEvent<HTMLFormElement>): void => {
    event.preventDefault();
    const form = event.currentTarget;
    const fields = new FormData(form);
    const shared = {
      id: uuidV7(),
      batchId,
      grounds: String(fields.get("grounds") ?? ""),
      password: String(fields.get("password") ?? ""),
      batchVersion: version,
    };
    const until = String(fields.get("until") ?? "");
    startTransition(async () => {
      const answer =
        choice === "batch" || choice === "risk"
          ? await (choice === "batch" ? releaseBatchAction : acceptSampleRiskAction)(shared)
          : await decideFramesAction({
              ...shared,
              serials: [...chosen],
              disposition: choice,
              ...(choice === "concession" && until !== "" ? { lastDay: until } : {}),
            });
      setResult(answer);
      if (answer.ok) {
        form.reset();
        setChosen(new Set());
      }
    });
  };

  return (
    <form className={styles.decision} onSubmit={handleSubmit}>
      <h2>Decision</h2>
      <fieldset className={styles.choices}>
        <legend className="visuallyHidden">What is done</legend>
        {CHOICES.filter(({ value }) => value !== "risk" || atRisk).map(({ value, label, detail }) => {
          const disabled =
            (value === "batch" && (!held || openReasons > 0)) ||
            ((value === "concession" || value === "risk") && !mayConcede);
          return (
            <label key={value}>
              <input
                type="radio"
                name="choice"
                checked={choice === value}
                disabled={disabled}
                onChange={() => setChoice(value)}
              />
              <b>{label}</b>
              <span className="soft">{detail}</span>
            </label>
          );
        })}
      </fieldset>
      {ofBatch ? null : (
        <>
          <PickKeys frames={frames} onPick={(serials) => setChosen(new Set(serials))} />
          <fieldset className={styles.chosen}>
            <legend>{chosen.size === 0 ? "Choose frames" : `${counted(chosen.size)} chosen`}</legend>
            {worstFirst(frames).map((frame) => (
              <label key={frame.serial} className="mono">
                <input type="checkbox" checked={chosen.has(frame.serial)} onChange={() => toggle(frame.serial)} />
                {frame.serial}
                <small>{frame.verdict ?? "no result"}</small>
              </label>
            ))}
          </fieldset>
        </>
      )}
      <div className={styles.signature}>
        <label>
          <span>grounds</span>
          <input name="grounds" required minLength={3} maxLength={2000} autoComplete="off" />
        </label>
        {choice === "concession" ? (
          <label>
            <span>until the end of, by the plant&rsquo;s clock</span>
            <input name="until" type="date" required />
          </label>
        ) : null}
        <label>
          <span>your password, as signature</span>
          <input name="password" type="password" required maxLength={128} autoComplete="current-password" />
        </label>
        <Button type="submit" kind="go" disabled={isPending || (!ofBatch && chosen.size === 0)}>
          {choice === "batch"
            ? "Sign, release the batch"
            : choice === "risk"
              ? "Sign for the unmeasured frames"
              : `Sign for ${counted(chosen.size)}`}
        </Button>
      </div>
      {result?.ok === false ? (
        <ErrorNotice title="Not signed" problems={result.error.fields ?? []}>
          <p>{result.error.message}</p>
        </ErrorNotice>
      ) : (
        <StatusLine>{result?.ok ? "Signed and recorded in the journal." : ""}</StatusLine>
      )}
      <p className={styles.caution}>
        Rework with reamers, solvents or compounds needs gloves, eye protection, ventilation and the makers&rsquo; data
        sheets; the frame and bearing makers&rsquo; limits decide.
      </p>
    </form>
  );
}
