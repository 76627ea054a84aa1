"use client";

import { useId, useState } from "react";
import type { FrameState } from "@/lib/quality/frame-state";
import { ActionAnswer } from "@/lib/ui/action-answer";
import { Button } from "@/lib/ui/button";
import { Field } from "@/lib/ui/field";
import { SignatureFields, signatureOf } from "@/lib/ui/signature-fields";
import { textOf, useAction } from "@/lib/ui/use-action";
import { acceptSampleRiskAction, decideFramesAction, releaseBatchAction } from "../../../actions";
import { GATE_WORDS } from "../../../words";
import styles from "../batch.module.css";

const words = GATE_WORDS.decision;

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

const counted = (count: number): string => words.frames(count);

const CHOICES = [
  { value: "return_to_supplier", label: words.returnToSupplier, detail: words.withEvidence },
  { value: "rework", label: words.rework, detail: words.thenMeasuredAgain },
  { value: "concession", label: words.concession, detail: words.needsExpiryDate },
  { value: "scrap", label: words.scrap, detail: words.cannotBeTakenBack },
  { value: "release", label: words.releaseFrames, detail: words.conformingFramesOnly },
  { value: "risk", label: words.signForUnmeasuredFrames, detail: words.withRiskInReasonAbove },
  { value: "batch", label: words.releaseBatch, detail: words.onlyWhenNoReason },
] as const;
type Choice = (typeof CHOICES)[number]["value"];

const GROUPS = [
  { verdict: "does not conform", label: words.allDoNotConform },
  { verdict: "not proven", label: words.allNotProven },
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
      {words.choose}
      {groups.map(({ label, serials }) => (
        <Button key={label} kind="quiet" onClick={() => onPick(serials)}>
          {label}
        </Button>
      ))}
      <Button kind="quiet" onClick={() => onPick([])}>
        {words.none}
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
  const id = useId();
  const { result, isReady, submits } = useAction<unknown>();
  const ofBatch = choice === "batch" || choice === "risk";

  const toggle = (serial: string): void => {
    const next = new Set(chosen);
    if (!next.delete(serial)) next.add(serial);
    setChosen(next);
  };

  const sign = (fields: FormData, key: string) => {
    const shared = { id: key, batchId, batchVersion: version, ...signatureOf(fields) };
    if (choice === "batch") return releaseBatchAction(shared);
    if (choice === "risk") return acceptSampleRiskAction(shared);
    const until = textOf(fields, "until");
    return decideFramesAction({
      ...shared,
      serials: [...chosen],
      disposition: choice,
      ...(choice === "concession" && until !== "" ? { lastDay: until } : {}),
    });
  };

  return (
    <form
      className={styles.decision}
      onSubmit={submits(sign, (form) => {
        form.reset();
        setChosen(new Set());
      })}
    >
      <h2>{words.decision}</h2>
      <fieldset className={styles.choices}>
        <legend className="visuallyHidden">{words.whatIsDone}</legend>
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
            <legend>{chosen.size === 0 ? words.chooseFrames : words.chosen(counted(chosen.size))}</legend>
            {worstFirst(frames).map((frame) => (
              <label key={frame.serial} className="mono">
                <input type="checkbox" checked={chosen.has(frame.serial)} onChange={() => toggle(frame.serial)} />
                {frame.serial}
                <small>{frame.verdict ?? words.noResult}</small>
              </label>
            ))}
          </fieldset>
        </>
      )}
      <div className={styles.signature}>
        <SignatureFields />
        {choice === "concession" ? (
          <Field id={`${id}-until`} look="framed" label={words.untilEndOf}>
            {(control) => <input {...control} name="until" type="date" required />}
          </Field>
        ) : null}
        <Button type="submit" kind="go" disabled={!isReady || (!ofBatch && chosen.size === 0)}>
          {choice === "batch"
            ? words.signReleaseBatch
            : choice === "risk"
              ? words.signForUnmeasuredFrames
              : words.signFor(counted(chosen.size))}
        </Button>
      </div>
      <ActionAnswer result={result} refused={words.notSigned}>
        {words.signedAndRecordedInJournal}
      </ActionAnswer>
      <p className={styles.caution}>{words.reworkCaution}</p>
    </form>
  );
}
