"use client";

import { useId, type ReactNode } from "react";
import type { ActionResult } from "../schemas/action-result";
import { ActionAnswer } from "./action-answer";
import { Button } from "./button";
import { UI_WORDS } from "./words";
import styles from "./entry-form.module.css";
import { Choices, Field, Tick, type FieldControl } from "./field";
import type { Problem } from "./problem-list";
import { useAction } from "./use-action";

const words = UI_WORDS.entryForm;

export type EntryField = Readonly<{
  name: string;
  label: string;
  kind?: "text" | "code" | "number" | "email" | "password" | "date" | "lines" | "choice" | "checks" | "hidden";
  unit?: string;
  /** Help where it is needed, under the field. */
  hint?: string;
  options?: readonly { readonly value: string; readonly label: string }[];
  /** Of checks: the checked values, separated by spaces. */
  value?: string;
  optional?: boolean;
  autoComplete?: string;
}>;

type EntryFormProps = Readonly<{
  fields: readonly EntryField[];
  action: (previous: null, form: FormData) => Promise<ActionResult<unknown>>;
  submit: string;
  /** What was done, as a sentence; where the answer is a sentence itself, that one stands instead. */
  done: string;
  kind?: "go" | "plain" | "quiet";
  /** Fields beside each other where there is room. */
  inline?: boolean;
  /** Keeps what was typed after it was done, as in a form that changes what is there. */
  keep?: boolean;
  children?: ReactNode;
}>;

/** Problems of one field: its own, and those of its parts. */
function problemsOf(name: string, problems: readonly Problem[]): readonly Problem[] {
  return problems.filter(({ path }) => path === name || path.startsWith(`${name}[`) || path.startsWith(`${name}.`));
}

function Input({ field, control }: Readonly<{ field: EntryField; control: FieldControl }>) {
  const { name, kind = "text", options = [], value = "", optional = false } = field;
  const shared = { ...control, name, required: !optional, defaultValue: value };
  if (kind === "choice")
    return (
      <select {...shared}>
        {optional || options.length !== 1 ? <option value="">{optional ? words.none : words.choose}</option> : null}
        {options.map((option) => (
          <option key={option.value} value={option.value}>
            {option.label}
          </option>
        ))}
      </select>
    );
  if (kind === "lines") return <textarea {...shared} className="mono" rows={6} spellCheck={false} />;
  return (
    <input
      {...shared}
      type={kind === "date" || kind === "email" || kind === "password" ? kind : "text"}
      inputMode={kind === "number" ? "decimal" : undefined}
      className={kind === "code" ? "mono" : undefined}
      autoComplete={field.autoComplete ?? "off"}
      spellCheck={kind === "text"}
    />
  );
}

function Entry({ field, id, problem }: Readonly<{ field: EntryField; id: string; problem: string | undefined }>) {
  const { name, label, hint, value = "", options = [], unit } = field;
  if (field.kind === "hidden") return <input type="hidden" name={name} value={value} />;
  if (field.kind === "checks") {
    const checked = new Set(value.split(" "));
    return (
      <Choices legend={label} problem={problem} hint={hint}>
        {options.map((option) => (
          <Tick
            key={option.value}
            control={
              <input
                type="checkbox"
                name={`${name}[]`}
                value={option.value}
                defaultChecked={checked.has(option.value)}
              />
            }
          >
            {option.label}
          </Tick>
        ))}
      </Choices>
    );
  }
  return (
    <Field
      id={id}
      label={label}
      problem={problem}
      hint={hint}
      wide={field.kind === "lines"}
      {...(unit === undefined ? {} : { unit })}
    >
      {(control) => <Input field={field} control={control} />}
    </Field>
  );
}

/** A form that enters or changes one thing. What was typed stays when it is refused; each problem stands at its field. */
export function EntryForm(props: EntryFormProps) {
  const { fields, action, submit, done, kind = "plain", inline = false, keep = false, children } = props;
  const id = useId();
  const { result, error, isReady, submits } = useAction<unknown>();
  const problems = error?.fields ?? [];
  const wordsOf = (name: string) => problemsOf(name, problems).map(({ message }) => message);
  const unmarked = problems.filter(({ path }) =>
    fields.every(({ name, kind: of }) => of === "hidden" || problemsOf(name, [{ path, message: "" }]).length === 0),
  );

  return (
    <form
      className={inline ? styles.inline : styles.form}
      onSubmit={submits(
        (entered) => action(null, entered),
        (form) => {
          if (!keep) form.reset();
        },
      )}
    >
      {fields.map((field) => (
        <Entry
          key={field.name}
          field={field}
          id={`${id}-${field.name}`}
          problem={wordsOf(field.name).length === 0 ? undefined : wordsOf(field.name).join("; ")}
        />
      ))}
      {children}
      <div className={styles.send}>
        <Button type="submit" kind={kind} disabled={!isReady}>
          {submit}
        </Button>
      </div>
      <div className={styles.answer}>
        <ActionAnswer result={result} refused={words.notDone} unmarked={unmarked}>
          {result?.ok && typeof result.data === "string" ? result.data : done}
        </ActionAnswer>
      </div>
    </form>
  );
}
