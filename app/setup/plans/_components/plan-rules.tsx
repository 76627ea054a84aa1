"use client";

import { useId } from "react";
import { Field, Tick } from "@/lib/ui/field";
import { SectionHeading } from "@/lib/ui/page-frame";
import type { PlanSettings } from "@/lib/schemas/plan";
import { Button } from "@/lib/ui/button";
import { keepWhole } from "@/lib/ui/keep-whole";
import { computedForm, type PlanEntry } from "./plan-entry";
import { PlanField, PlanRadio } from "./plan-field";
import { PLAN_WORDS } from "../../words/plans";
import styles from "./plan.module.css";

const texts = PLAN_WORDS.rules;

/** What the stored sweeps of the drawing's streams show of its form, in words, and what of it the plan may state. */
export type SuggestedForm = {
  readonly words: readonly string[];
  readonly form: NonNullable<PlanSettings["form"]> | null;
};

export type OtherPlan = { readonly key: string; readonly title: string };

type PlanRulesProps = Readonly<{
  entry: PlanEntry;
  /** Plans for the same drawing, by which a first-off may be measured. */
  others: readonly OtherPlan[];
  observed: SuggestedForm;
  onChange: (part: Partial<PlanEntry>) => void;
  problem: (path: string) => string | undefined;
}>;

function FrameRules({ entry, onChange, problem }: PlanRulesProps) {
  const id = useId();
  const ways = [
    ["all", texts.everyFrame],
    ["every", texts.everyNThFrame],
    ["drawn", texts.sampleServerDraws],
  ] as const;
  return (
    <>
      <SectionHeading>{texts.whichFrames}</SectionHeading>
      <div className={styles.radios} role="radiogroup" aria-label={texts.whichFrames}>
        {ways.map(([value, label]) => (
          <PlanRadio
            key={value}
            name={`${id}-frames`}
            value={value}
            current={entry.frames}
            label={label}
            onChange={(frames) => onChange({ frames })}
          />
        ))}
      </div>
      {entry.frames === "every" ? (
        <div className={styles.fields}>
          <PlanField
            id={`${id}-n`}
            label={texts.n}
            value={entry.n}
            problem={problem("frames.n")}
            onChange={(n) => onChange({ n })}
          />
          <Tick
            control={
              <input
                type="checkbox"
                checked={entry.firstOfBatch}
                onChange={(event) => onChange({ firstOfBatch: event.target.checked })}
              />
            }
          >
            {texts.firstOfEachBatch}
          </Tick>
        </div>
      ) : null}
      {entry.frames === "drawn" ? (
        <div className={styles.fields}>
          <PlanField
            id={`${id}-size`}
            label={texts.framesOfBatch}
            value={entry.size}
            problem={problem("frames.size")}
            onChange={(size) => onChange({ size })}
          />
        </div>
      ) : null}
    </>
  );
}

function FirstOffRules({ entry, others, onChange, problem }: PlanRulesProps) {
  const id = useId();
  const ways = [
    ["none", texts.notAskedFor],
    ["shift", texts.atStartOfEachShift],
    ["event", texts.afterEachEventOnLine],
  ] as const;
  return (
    <>
      <SectionHeading aside={texts.engineerSignsBeforeLineGoes}>{texts.firstOffRelease}</SectionHeading>
      <div className={styles.radios} role="radiogroup" aria-label={texts.firstOffRelease}>
        {ways.map(([value, label]) => (
          <PlanRadio
            key={value}
            name={`${id}-off`}
            value={value}
            current={entry.firstOff}
            label={label}
            onChange={(firstOff) => onChange({ firstOff })}
          />
        ))}
      </div>
      {entry.firstOff === "none" ? null : (
        <div className={styles.fields}>
          {entry.firstOff === "shift" ? (
            <PlanField
              id={`${id}-starts`}
              label={texts.shiftsBeginAt}
              value={entry.shiftStarts}
              problem={problem("settings.firstOff.starts")}
              onChange={(shiftStarts) => onChange({ shiftStarts })}
            />
          ) : null}
          <Field id={`${id}-plan`} label={texts.firstFrameIsMeasuredBy} problem={problem("settings.firstOff.plan")}>
            {(control) => (
              <select
                {...control}
                value={entry.fullerPlan}
                onChange={(event) => onChange({ fullerPlan: event.target.value })}
              >
                <option value="">{texts.thisPlan}</option>
                {others.map(({ key, title }) => (
                  <option key={key} value={key}>
                    {key}, {title}
                  </option>
                ))}
              </select>
            )}
          </Field>
        </div>
      )}
    </>
  );
}

function WeakerPlans({ entry, others, onChange, problem }: PlanRulesProps) {
  if (others.length === 0) return null;
  const toggle = (key: string): void =>
    onChange({
      weakerPlans: entry.weakerPlans.includes(key)
        ? entry.weakerPlans.filter((one) => one !== key)
        : [...entry.weakerPlans, key],
    });
  return (
    <>
      <SectionHeading aside={texts.othersCountWhereTheyAsk}>{texts.weakerPlansCountToo}</SectionHeading>
      <div className={styles.radios} role="group" aria-label={texts.weakerPlansCountToo}>
        {others.map(({ key, title }) => (
          <Tick
            key={key}
            control={<input type="checkbox" checked={entry.weakerPlans.includes(key)} onChange={() => toggle(key)} />}
          >
            {keepWhole(`${key}, ${title}`)}
          </Tick>
        ))}
      </div>
      <p>{texts.frameMeasured}</p>
      <span className={styles.problem}>{problem("settings.weakerPlans")}</span>
    </>
  );
}

function ZeroRules({ entry, onChange, problem }: PlanRulesProps) {
  const id = useId();
  return (
    <>
      <SectionHeading aside={texts.besideAfterKnock}>{texts.zeroChecksOfComparators}</SectionHeading>
      <div className={styles.fields}>
        <PlanField
          id={`${id}-starts`}
          label={texts.atTheseTimes}
          value={entry.zeroStarts}
          placeholder="06:00, 14:00, 22:00"
          problem={problem("settings.zeroCheck.starts")}
          onChange={(zeroStarts) => onChange({ zeroStarts })}
        />
        <PlanField
          id={`${id}-hours`}
          label={texts.afterSoManyHours}
          value={entry.zeroHours}
          problem={problem("settings.zeroCheck.everyHours")}
          onChange={(zeroHours) => onChange({ zeroHours })}
        />
        <PlanField
          id={`${id}-frames`}
          label={texts.afterSoManyFrames}
          value={entry.zeroFrames}
          problem={problem("settings.zeroCheck.everyFrames")}
          onChange={(zeroFrames) => onChange({ zeroFrames })}
        />
      </div>
    </>
  );
}

function MeasuringRules({ entry, observed, onChange, problem }: PlanRulesProps) {
  const id = useId();
  const fields = [
    ["temperatureFrom", texts.sizesProveSomethingFromC, "15", "settings.temperature.fromC"],
    ["temperatureTo", texts.upToC, "25", "settings.temperature.toC"],
    ["closingLimit", texts.sweepClosesWithinUm, "3", "settings.closingLimitUm"],
  ] as const;
  const form = [
    ["formLobe", texts.amplitudeOfLobesUm, "settings.form.lobeUm"],
    ["formOvality", texts.ovalityUm, "settings.form.ovalityUm"],
    ["formTaper", texts.taperUm, "settings.form.taperUm"],
    ["formFrames", texts.ofSoManyFrames, "settings.form.frames"],
  ] as const;
  return (
    <>
      <SectionHeading>{texts.temperatureAndSweeps}</SectionHeading>
      <div className={styles.fields}>
        {fields.map(([key, label, usual, path]) => (
          <PlanField
            key={key}
            id={`${id}-${key}`}
            label={label}
            value={entry[key]}
            placeholder={usual}
            problem={problem(path)}
            onChange={(value) => onChange({ [key]: value })}
          />
        ))}
        <Tick
          control={
            <input
              type="checkbox"
              checked={entry.temperatureAsked}
              onChange={(event) => onChange({ temperatureAsked: event.target.checked })}
            />
          }
        >
          {texts.stationAsksForShellsTemperature}
        </Tick>
      </div>
      <SectionHeading aside={texts.emptyUpToDrawingsLimits}>{texts.formFullPlansOfStream}</SectionHeading>
      {observed.words.map((text) => (
        <p key={text}>{text}</p>
      ))}
      {observed.form === null ? null : <TakeForm form={observed.form} entry={entry} onChange={onChange} />}
      <div className={styles.fields}>
        {form.map(([key, label, path]) => (
          <PlanField
            key={key}
            id={`${id}-${key}`}
            label={label}
            value={entry[key]}
            problem={problem(path)}
            onChange={(value) => onChange({ [key]: value, formSince: "" })}
          />
        ))}
      </div>
    </>
  );
}

/** Takes the computed form into the plan; it counts as soon as the plan is released. */
function TakeForm({
  form,
  entry,
  onChange,
}: Readonly<{ form: NonNullable<PlanSettings["form"]> }> & Pick<PlanRulesProps, "entry" | "onChange">) {
  const computed = computedForm(form);
  const isTaken = Object.entries(computed).every(([key, value]) => entry[key as keyof PlanEntry] === value);
  return (
    <div className={styles.steps}>
      <Button disabled={isTaken} onClick={() => onChange(computed)}>
        {isTaken ? texts.computedFormIsTaken : texts.takeComputedForm}
      </Button>
    </div>
  );
}

/** Of which frames a plan asks for readings, and what it asks for beside them. */
export function PlanRules(props: PlanRulesProps) {
  return (
    <>
      <FrameRules {...props} />
      <FirstOffRules {...props} />
      <WeakerPlans {...props} />
      <ZeroRules {...props} />
      <MeasuringRules {...props} />
    </>
  );
}
