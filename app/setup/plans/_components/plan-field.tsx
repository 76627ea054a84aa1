import type { ReactNode } from "react";
import styles from "./plan.module.css";

/** One typed entry of a plan, with its problem under it. */
export function PlanField({
  id,
  label,
  value,
  onChange,
  problem,
  hint,
  unit,
  locked = false,
  placeholder,
}: Readonly<{
  id: string;
  label: string;
  value: string;
  onChange: (value: string) => void;
  problem?: string | undefined;
  hint?: ReactNode;
  unit?: string;
  locked?: boolean;
  placeholder?: string;
}>) {
  return (
    <div className={styles.field}>
      <label htmlFor={id}>{unit ? `${label}, ${unit}` : label}</label>
      <input
        id={id}
        value={value}
        readOnly={locked}
        placeholder={placeholder}
        autoComplete="off"
        spellCheck={false}
        aria-invalid={problem !== undefined}
        aria-describedby={`${id}-note`}
        onChange={(event) => onChange(event.target.value)}
      />
      <span className={problem === undefined ? styles.note : styles.problem} id={`${id}-note`}>
        {problem ?? hint}
      </span>
    </div>
  );
}

/** One of several ways, of which one holds. */
export function PlanRadio<T extends string>({
  name,
  value,
  current,
  label,
  onChange,
}: Readonly<{ name: string; value: T; current: T; label: string; onChange: (value: T) => void }>) {
  return (
    <label className={styles.radio}>
      <input type="radio" name={name} checked={current === value} onChange={() => onChange(value)} /> {label}
    </label>
  );
}
