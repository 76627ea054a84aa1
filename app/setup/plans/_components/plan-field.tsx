import type { ReactNode } from "react";
import { Field, Tick } from "@/lib/ui/field";

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
    <Field id={id} label={label} problem={problem} hint={hint} {...(unit === undefined ? {} : { unit })}>
      {(control) => (
        <input
          {...control}
          value={value}
          readOnly={locked}
          placeholder={placeholder}
          autoComplete="off"
          spellCheck={false}
          onChange={(event) => onChange(event.target.value)}
        />
      )}
    </Field>
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
    <Tick control={<input type="radio" name={name} checked={current === value} onChange={() => onChange(value)} />}>
      {label}
    </Tick>
  );
}
