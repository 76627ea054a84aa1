"use client";

import { useId, useRef, useState } from "react";
import type { CauseSide } from "@/lib/quality/cause-side";
import type { FrameState } from "@/lib/quality/frame-state";
import { CAUSES } from "@/lib/schemas/decision";
import { uuidV7 } from "@/lib/schemas/identifier";
import { readTypedNumber } from "@/lib/schemas/typed-number";
import { ActionAnswer } from "@/lib/ui/action-answer";
import { Button } from "@/lib/ui/button";
import { Choices, Field, Tick } from "@/lib/ui/field";
import { SignatureFields, signatureOf } from "@/lib/ui/signature-fields";
import { textOf, useAction } from "@/lib/ui/use-action";
import { acceptSampleRiskAction, decideGroupsAction, releaseBatchAction } from "../../../actions";
import { GATE_WORDS } from "../../../words";
import styles from "../batch.module.css";

const words = GATE_WORDS.decision;

type DecidableFrame = Readonly<{ serial: string; state: FrameState; verdict: string | null }>;

type DecisionFormProps = Readonly<{
  batchId: string;
  version: number;
  held: boolean;
  mayConcede: boolean;
  /** Unmeasured frames are held by what the measured ones were found to be. */
  atRisk: boolean;
  openReasons: number;
  /** Whose cause the evidence speaks for. */
  causeSide: CauseSide;
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
type Disposition = Exclude<Choice, "risk" | "batch">;
type Cause = (typeof CAUSES)[number];

/** An amount as people write it, with comma or point. */
const AMOUNT = "\\s*[0-9]+([.,][0-9]+)?\\s*";

const isCause = (text: string): text is Cause => CAUSES.some((cause) => cause === text);

const GROUPS = [
  { verdict: "conforms", label: words.allThatConform },
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

type Group = Readonly<{
  id: string;
  serials: readonly string[];
  disposition: Disposition;
  grounds: string;
  lastDay?: string;
  cause?: Cause;
  againstCause?: string;
  cost?: number;
}>;

/** Where whose cause it is matters: frames that are not simply let go. */
const ASKS_CAUSE: ReadonlySet<Choice> = new Set(["return_to_supplier", "rework", "scrap"]);

const labelOf = (disposition: Disposition): string =>
  CHOICES.find(({ value }) => value === disposition)?.label ?? disposition;

/** The group that the form holds now; null where it has none. */
function groupOf(fields: FormData, id: string, disposition: Disposition, chosen: ReadonlySet<string>): Group | null {
  if (chosen.size === 0) return null;
  const [until, cause, against] = [textOf(fields, "until"), textOf(fields, "cause"), textOf(fields, "against")];
  const cost = readTypedNumber(textOf(fields, "cost"));
  return {
    id,
    serials: [...chosen],
    disposition,
    grounds: textOf(fields, "grounds"),
    ...(disposition === "concession" && until !== "" ? { lastDay: until } : {}),
    ...(isCause(cause) ? { cause } : {}),
    ...(against === "" ? {} : { againstCause: against }),
    ...(cost === null ? {} : { cost }),
  };
}

/** Where a person signs: groups of frames, what is done with each, on what grounds, and one password. Nothing is chosen before. */
export function DecisionForm(props: DecisionFormProps) {
  const { batchId, version, held, mayConcede, atRisk, openReasons, causeSide, frames } = props;
  const [choice, setChoice] = useState<Choice | null>(null);
  const [chosen, setChosen] = useState<ReadonlySet<string>>(new Set());
  const [groups, setGroups] = useState<readonly Group[]>([]);
  const [cause, setCause] = useState<Cause | null>(null);
  const form = useRef<HTMLFormElement>(null);
  const id = useId();
  const { result, isReady, submits } = useAction<unknown>();
  const ofBatch = choice === "batch" || choice === "risk";
  const taken = new Set(groups.flatMap(({ serials }) => serials));
  const left = frames.filter(({ serial }) => !taken.has(serial));
  const asksCause = choice !== null && ASKS_CAUSE.has(choice);
  const isOurs = cause === "ours" || (cause === null && causeSide === "ours");

  const toggle = (serial: string): void => {
    const next = new Set(chosen);
    if (!next.delete(serial)) next.add(serial);
    setChosen(next);
  };

  const clear = (): void => {
    setChosen(new Set());
    setChoice(null);
    setCause(null);
  };

  const addGroup = (): void => {
    if (form.current === null || choice === null || ofBatch) return;
    const wrong = [...form.current.querySelectorAll("input")].find(
      (input) => input.type !== "password" && !input.checkValidity(),
    );
    if (wrong) {
      wrong.reportValidity();
      return;
    }
    const group = groupOf(new FormData(form.current), uuidV7(), choice, chosen);
    if (group === null) return;
    setGroups([...groups, group]);
    form.current.reset();
    clear();
  };

  const sign = (fields: FormData, key: string) => {
    const { grounds, password } = signatureOf(fields);
    const shared = { batchId, batchVersion: version, password };
    if (choice === "batch") return releaseBatchAction({ id: key, grounds, ...shared });
    if (choice === "risk") return acceptSampleRiskAction({ id: key, grounds, ...shared });
    const last = choice === null ? null : groupOf(fields, key, choice, chosen);
    return decideGroupsAction({
      ...shared,
      groups: [...groups, ...(last === null ? [] : [last])].map((group) => ({ ...group, serials: [...group.serials] })),
    });
  };

  const count = taken.size + (ofBatch ? 0 : chosen.size);
  const groupCount = groups.length + (choice !== null && chosen.size > 0 ? 1 : 0);
  const isComplete = choice === null ? groups.length > 0 && chosen.size === 0 : ofBatch || chosen.size > 0;
  return (
    <form
      ref={form}
      className={styles.decision}
      onSubmit={submits(sign, (sent) => {
        sent.reset();
        clear();
        setGroups([]);
      })}
    >
      <h2>{words.decision}</h2>
      {groups.length > 0 ? (
        <ul className={styles.groups} aria-label={words.groupsInAct}>
          {groups.map((group) => (
            <li key={group.id}>
              <span>
                <b>{labelOf(group.disposition)}</b>, {counted(group.serials.length)}: {group.grounds}
              </span>
              <Button kind="quiet" onClick={() => setGroups(groups.filter((one) => one !== group))}>
                {words.takeAway}
              </Button>
            </li>
          ))}
        </ul>
      ) : null}
      <fieldset className={styles.choices}>
        <legend className="visuallyHidden">{words.whatIsDone}</legend>
        {CHOICES.filter(({ value }) => value !== "risk" || atRisk).map(({ value, label, detail }) => {
          const isForBatch = value === "batch" || value === "risk";
          const disabled =
            (value === "batch" && (!held || openReasons > 0)) ||
            (isForBatch && groups.length > 0) ||
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
          <PickKeys frames={left} onPick={(serials) => setChosen(new Set(serials))} />
          <fieldset className={styles.chosen}>
            <legend>{chosen.size === 0 ? words.chooseFrames : words.chosen(counted(chosen.size))}</legend>
            {worstFirst(left).map((frame) => (
              <label key={frame.serial} className="mono">
                <input type="checkbox" checked={chosen.has(frame.serial)} onChange={() => toggle(frame.serial)} />
                {frame.serial}
                <small>{frame.verdict ?? words.noResult}</small>
              </label>
            ))}
          </fieldset>
        </>
      )}
      {asksCause ? (
        <div className={styles.signature}>
          <Choices legend={words.whoseCauseIsIt}>
            {CAUSES.map((value) => (
              <Tick
                key={value}
                control={
                  <input
                    type="radio"
                    name="cause"
                    value={value}
                    required
                    checked={cause === value}
                    onChange={() => setCause(value)}
                  />
                }
              >
                {words.causes[value]}
              </Tick>
            ))}
          </Choices>
          {choice === "return_to_supplier" && (isOurs || causeSide === "ours") ? (
            <Field id={`${id}-against`} look="framed" label={words.whyBackAllTheSame}>
              {(control) => <input {...control} name="against" required minLength={3} maxLength={2000} />}
            </Field>
          ) : null}
          {isOurs ? (
            <Field id={`${id}-cost`} look="framed" label={words.costOfIt}>
              {(control) => <input {...control} name="cost" inputMode="decimal" pattern={AMOUNT} autoComplete="off" />}
            </Field>
          ) : null}
        </div>
      ) : null}
      <div className={styles.signature}>
        <SignatureFields isReasonGiven={choice === null && groups.length > 0} />
        {choice === "concession" ? (
          <Field id={`${id}-until`} look="framed" label={words.untilEndOf}>
            {(control) => <input {...control} name="until" type="date" required />}
          </Field>
        ) : null}
        {choice === null || ofBatch || chosen.size === 0 ? null : <Button onClick={addGroup}>{words.nextGroup}</Button>}
        <Button type="submit" kind="go" disabled={!isReady || !isComplete}>
          {choice === "batch"
            ? words.signReleaseBatch
            : choice === "risk"
              ? words.signForUnmeasuredFrames
              : !isComplete
                ? words.chooseWhatIsDone
                : groupCount > 1
                  ? words.signTogether(groupCount, counted(count))
                  : words.signFor(counted(count))}
        </Button>
      </div>
      <ActionAnswer result={result} refused={words.notSigned}>
        {words.signedAndRecordedInJournal}
      </ActionAnswer>
      <p className={styles.caution}>{words.reworkCaution}</p>
    </form>
  );
}
