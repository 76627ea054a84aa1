"use client";

import { useId, useRef, useState, useTransition, type FormEvent, type ReactNode } from "react";
import type { ActionResult } from "@/lib/schemas/action-result";
import { Button } from "@/lib/ui/button";
import { ErrorNotice } from "@/lib/ui/error-notice";
import { StatusLine } from "@/lib/ui/status-line";
import { useAwake } from "@/lib/ui/use-awake";
import styles from "./entry-form.module.css";
import { refusalWords } from "./refusal-words";

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

type Problem = { readonly path: string; readonly message: string };

/** Problems of one field: its own, and those of its parts. */
function problemsOf(name: string, problems: readonly Problem[]): readonly Problem[] {
  return problems.filter(({ path }) => path === name || path.startsWith(`${name}[`) || path.startsWith(`${name}.`));
}

function Input({ field, id, invalid }: Readonly<{ field: EntryField; id: string; invalid: boolean }>) {
  const { name, kind = "text", options = [], value = "", optional = false } = field;
  const shared = { id, name, "aria-invalid": invalid, "aria-describedby": `${id}-note`, required: !optional };
  switch (kind) {
    case "choice":
      return (
        <select {...shared} defaultValue={value}>
          {optional || options.length !== 1 ? <option value="">{optional ? "none" : "choose"}</option> : null}
          {options.map((option) => (
            <option key={option.value} value={option.value}>
              {option.label}
            </option>
          ))}
        </select>
      );
    case "lines":
      return <textarea {...shared} className="mono" rows={6} defaultValue={value} spellCheck={false} />;
    default: {
      const type = kind === "date" || kind === "email" || kind === "password" ? kind : "text";
      return (
        <span className={styles.box}>
          <input
            {...shared}
            type={type}
            inputMode={kind === "number" ? "decimal" : undefined}
            className={kind === "code" ? "mono" : undefined}
            defaultValue={value}
            autoComplete={field.autoComplete ?? "off"}
            spellCheck={kind === "text"}
          />
          {field.unit ? <span className={styles.unit}>{field.unit}</span> : null}
        </span>
      );
    }
  }
}

function Entry({ field, id, problems }: Readonly<{ field: EntryField; id: string; problems: readonly Problem[] }>) {
  if (field.kind === "hidden") return <input type="hidden" name={field.name} value={field.value ?? ""} />;
  const note = (
    <span className={problems.length > 0 ? styles.problem : styles.hint} id={`${id}-note`}>
      {problems.length > 0 ? problems.map((one) => one.message).join("; ") : field.hint}
    </span>
  );
  if (field.kind === "checks") {
    const checked = new Set((field.value ?? "").split(" "));
    return (
      <fieldset className={styles.checks} aria-describedby={`${id}-note`}>
        <legend>{field.label}</legend>
        {(field.options ?? []).map((option) => (
          <label key={option.value}>
            <input
              type="checkbox"
              name={`${field.name}[]`}
              value={option.value}
              defaultChecked={checked.has(option.value)}
            />{" "}
            {option.label}
          </label>
        ))}
        {note}
      </fieldset>
    );
  }
  return (
    <div className={field.kind === "lines" ? `${styles.field} ${styles.wide}` : styles.field}>
      <label htmlFor={id}>{field.label}</label>
      <Input field={field} id={id} invalid={problems.length > 0} />
      {note}
    </div>
  );
}

/** A form that enters or changes one thing. What was typed stays when it is refused; each problem stands at its field. */
export function EntryForm(props: EntryFormProps) {
  const { fields, action, submit, done, kind = "plain", inline = false, keep = false, children } = props;
  const id = useId();
  const isAwake = useAwake();
  const form = useRef<HTMLFormElement>(null);
  const [result, setResult] = useState<ActionResult<unknown> | null>(null);
  const [isPending, startTransition] = useTransition();
  const problems = result?.ok === false ? (result.error.fields ?? []) : [];
  const elsewhere = problems.filter(({ path }) =>
    fields.every(({ name, kind: of }) => of === "hidden" || problemsOf(name, [{ path, message: "" }]).length === 0),
  );

  const handleSubmit = (event: FormEvent<HTMLFormElement>): void => {
    event.preventDefault();
    const data = new FormData(event.currentTarget);
    startTransition(async () => {
      const answer = await action(null, data);
      setResult(answer);
      if (answer.ok && !keep) form.current?.reset();
      if (!answer.ok)
        requestAnimationFrame(() => form.current?.querySelector<HTMLElement>("[aria-invalid=true]")?.focus());
    });
  };

  return (
    <form ref={form} className={inline ? styles.inline : styles.form} onSubmit={handleSubmit}>
      {fields.map((field) => (
        <Entry key={field.name} field={field} id={`${id}-${field.name}`} problems={problemsOf(field.name, problems)} />
      ))}
      {children}
      <div className={styles.send}>
        <Button type="submit" kind={kind} disabled={isPending || !isAwake}>
          {submit}
        </Button>
      </div>
      <div className={styles.answer}>
        {result?.ok === false ? (
          <ErrorNotice title="Not done" problems={elsewhere}>
            <p>{refusalWords(result.error, elsewhere.length === 0)}</p>
          </ErrorNotice>
        ) : (
          <StatusLine>{result?.ok ? (typeof result.data === "string" ? result.data : done) : ""}</StatusLine>
        )}
      </div>
    </form>
  );
}
