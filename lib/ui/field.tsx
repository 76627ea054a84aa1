import { useId, type ReactNode } from "react";
import styles from "./field.module.css";
import { keepWhole } from "./keep-whole";

/** What an input of a field takes over: its name for the label, and its problem for those who hear the page. */
export type FieldControl = Readonly<{ id: string; "aria-invalid": boolean; "aria-describedby": string }>;

type FieldProps = Readonly<{
  id: string;
  label: ReactNode;
  /** The label is read aloud only, as in a table whose columns say it. */
  labelHidden?: boolean;
  /** What is wrong with it; it takes the place of the hint. */
  problem?: string | undefined;
  /** Help where it is needed. */
  hint?: ReactNode;
  unit?: string;
  /** As wide as the form. */
  wide?: boolean;
  /** `framed`: one frame round label and input, for the few fields of a form that is filled often. */
  look?: "plain" | "framed";
  children: (control: FieldControl) => ReactNode;
}>;

/** One entry of a form: label, input, unit, and under it the hint or what is wrong. */
export function Field({
  id,
  label,
  labelHidden = false,
  problem,
  hint,
  unit,
  wide = false,
  look = "plain",
  children,
}: FieldProps) {
  const note = `${id}-note`;
  const classes = [styles.field, look === "framed" ? styles.framed : "", wide ? styles.wide : ""];
  return (
    <div className={classes.filter(Boolean).join(" ")}>
      <label htmlFor={id} className={labelHidden ? "visuallyHidden" : undefined}>
        {label}
      </label>
      <span className={styles.box}>
        {children({ id, "aria-invalid": problem !== undefined, "aria-describedby": note })}
        {unit ? <span className={styles.unit}>{unit}</span> : null}
      </span>
      <span className={problem === undefined ? styles.hint : styles.problem} id={note}>
        {problem ?? keepWhole(hint)}
      </span>
    </div>
  );
}

/** Several choices under one name: ticks or radios, each a `Tick`. */
export function Choices({
  legend,
  legendHidden = false,
  problem,
  hint,
  children,
}: Readonly<{
  legend: ReactNode;
  legendHidden?: boolean;
  problem?: string | undefined;
  hint?: ReactNode;
  children: ReactNode;
}>) {
  const note = useId();
  return (
    <fieldset className={styles.choices} aria-describedby={note}>
      <legend className={legendHidden ? "visuallyHidden" : undefined}>{legend}</legend>
      {children}
      <span className={problem === undefined ? styles.hint : styles.problem} id={note}>
        {problem ?? hint}
      </span>
    </fieldset>
  );
}

/** A tick or a radio with its words. */
export function Tick({ control, children }: Readonly<{ control: ReactNode; children?: ReactNode }>) {
  return (
    <label className={styles.tick}>
      {control} <span>{children}</span>
    </label>
  );
}
