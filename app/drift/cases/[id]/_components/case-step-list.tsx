import { formatMoment } from "@/lib/format/date-text";
import { caseSteps } from "@/lib/quality/cases/case-steps";
import type { CasePage } from "@/lib/server/cases/queries";
import { EntryForm } from "@/lib/ui/entry-form";
import { Tick } from "@/lib/ui/field";
import { keepWhole } from "@/lib/ui/keep-whole";
import { SectionHeading } from "@/lib/ui/page-frame";
import { noteStepAction, tickStepAction } from "../../actions";
import { CASE_WORDS } from "../../words";
import styles from "../../cases.module.css";

const words = CASE_WORDS.steps;
const { act } = CASE_WORDS;

/** What was done and is to be done about a case, by whom and when; a person adds and ticks. */
export function CaseStepList({ page, zone, mayNote }: Readonly<{ page: CasePage; zone: string; mayNote: boolean }>) {
  const steps = caseSteps(page.entries);
  const done = steps.filter((step) => step.done !== null).length;
  const hidden = { name: "caseId", label: "", kind: "hidden", value: page.id } as const;
  return (
    <section>
      <SectionHeading aside={steps.length === 0 ? undefined : words.done(done, steps.length)}>
        {words.heading}
      </SectionHeading>
      {steps.length === 0 ? <p className={styles.quiet}>{words.none}</p> : null}
      <ul className={styles.steps}>
        {steps.map((step) => (
          <li key={step.id}>
            <i className={step.done === null ? styles.openBox : styles.fullBox} aria-hidden="true" />
            <div>
              <b>{keepWhole(step.text)}</b>
              <small>
                {step.done === null ? words.toDo : words.isDone}:{" "}
                {keepWhole(
                  step.done === null
                    ? words.by(step.by, formatMoment(step.at, { zone }))
                    : words.by(step.done.by, formatMoment(step.done.at, { zone })),
                )}
              </small>
              {step.done?.found ? <small>{keepWhole(step.done.found)}</small> : null}
              {step.done === null && mayNote ? (
                <details className={styles.fold}>
                  <summary>{words.tick}</summary>
                  <EntryForm
                    action={tickStepAction}
                    submit={words.tick}
                    done={words.ticked}
                    fields={[
                      hidden,
                      { name: "stepId", label: "", kind: "hidden", value: step.id },
                      { name: "found", label: words.found, optional: true },
                    ]}
                  />
                </details>
              ) : null}
            </div>
          </li>
        ))}
      </ul>
      {mayNote ? (
        <EntryForm
          action={noteStepAction}
          submit={act.note}
          done={act.noted}
          fields={[hidden, { name: "text", label: act.step, hint: act.stepHint }]}
        >
          <Tick control={<input type="checkbox" name="isPlanned" />}>{words.planned}</Tick>
        </EntryForm>
      ) : null}
    </section>
  );
}
