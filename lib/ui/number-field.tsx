"use client";

import { useId, useRef, useState, type KeyboardEvent } from "react";
import { formatFixed, withUnit, type DecimalSign } from "@/lib/format/number-text";
import { parseDecimal, withDecimalSign } from "@/lib/format/parse-decimal";
import { Button } from "./button";
import styles from "./number-field.module.css";

export type KeyedNumber = {
  readonly value: number;
  readonly decimals: number;
  readonly signed: boolean;
  readonly text: string;
};

type NumberFieldProps = Readonly<{
  label: string;
  labelHidden?: boolean;
  unit: string;
  /** `large` is the one number of Line. */
  size?: "field" | "large";
  name?: string;
  defaultValue?: string;
  placeholder?: string;
  decimal?: DecimalSign;
  /** Size expected here and how far from it a number may lie: a number without its decimal sign is then asked about. */
  expected?: { readonly nominal: number; readonly within: number };
  /** A number followed by Enter or Tab, from fingers or from a gauge. The field is emptied when this returns true. */
  onCommit?: (number: KeyedNumber) => boolean | void;
  /** While typing: the number so far, or null where there is none yet. */
  onDraft?: (number: KeyedNumber | null) => void;
  /** What is no number but was ended like one, as a scanned serial; true when it was taken, and the field is emptied. */
  onCode?: (text: string) => boolean;
  /** Takes over the question about a missing decimal sign. */
  onMissingDecimal?: (typed: string, suggestion: number) => void;
  /** Why what was sent was refused, from outside. */
  problem?: string;
  required?: boolean;
  disabled?: boolean;
  autoFocus?: boolean;
}>;

/** A number with its unit; takes comma and point, a gauge that ends with Enter or Tab, and never rounds or steps. */
export function NumberField(props: NumberFieldProps) {
  const {
    label,
    labelHidden = false,
    unit,
    size = "field",
    decimal = ".",
    expected,
    onCommit,
    onDraft,
    onMissingDecimal,
  } = props;
  const id = useId();
  const input = useRef<HTMLInputElement>(null);
  const [text, setText] = useState(props.defaultValue ?? "");
  const [message, setMessage] = useState("");
  const [suggestion, setSuggestion] = useState<number | null>(null);

  function keyed(of: string): KeyedNumber | null {
    const parsed = parseDecimal(of, unit);
    return parsed.ok
      ? { value: parsed.value, decimals: parsed.decimals, signed: parsed.signed, text: of.trim() }
      : null;
  }

  function change(next: string) {
    setText(next);
    setMessage("");
    setSuggestion(null);
    onDraft?.(keyed(next));
  }

  function commit(of: string, asked: boolean) {
    const parsed = parseDecimal(of, unit);
    if (!parsed.ok) {
      if (/[a-z]/i.test(of) && props.onCode?.(of.trim()) === true) return change("");
      setMessage(parsed.message);
      return;
    }
    const meant = expected && !asked ? withDecimalSign(of, expected.nominal, expected.within) : null;
    if (meant !== null) {
      if (onMissingDecimal) onMissingDecimal(of.trim(), meant);
      else setSuggestion(meant);
      return;
    }
    setSuggestion(null);
    if (onCommit?.({ ...parsed, text: of.trim() }) === true) change("");
  }

  function accept() {
    if (suggestion === null) return;
    const next = String(suggestion);
    setText(next);
    commit(next, true);
    input.current?.focus();
  }

  function handleKeyDown(event: KeyboardEvent<HTMLInputElement>) {
    if (!onCommit || event.nativeEvent.isComposing) return;
    if (event.key === "Escape" && suggestion !== null) {
      setSuggestion(null);
      return;
    }
    const ends = event.key === "Enter" || (event.key === "Tab" && !event.shiftKey && text.trim() !== "");
    if (!ends) return;
    event.preventDefault();
    if (suggestion !== null) accept();
    else commit(text, false);
  }

  const questionSize = size === "large" ? "touch" : "desk";
  const problem = message || props.problem || "";
  return (
    <div className={size === "large" ? `${styles.field} ${styles.large}` : styles.field}>
      <label htmlFor={id} className={labelHidden ? "visuallyHidden" : styles.label}>
        {label}
      </label>
      <div className={styles.box}>
        <input
          ref={input}
          id={id}
          name={props.name}
          type="text"
          inputMode="decimal"
          enterKeyHint="enter"
          autoComplete="off"
          autoCorrect="off"
          spellCheck={false}
          value={text}
          placeholder={props.placeholder}
          required={props.required}
          disabled={props.disabled}
          autoFocus={props.autoFocus}
          aria-invalid={problem !== ""}
          aria-describedby={`${id}-unit ${id}-message`}
          onChange={(event) => change(event.target.value)}
          onKeyDown={handleKeyDown}
        />
        <span className={styles.unit} id={`${id}-unit`}>
          {unit}
        </span>
      </div>
      <p className={styles.message} id={`${id}-message`} role="alert">
        {problem}
      </p>
      {suggestion === null ? null : (
        <div className={styles.question} role="alert">
          <span>
            Meant{" "}
            {withUnit(
              formatFixed(suggestion, Math.max(0, text.trim().length - String(Math.trunc(suggestion)).length), decimal),
              unit,
            )}
            ? The decimal sign is missing.
          </span>
          <Button kind="go" size={questionSize} keyHint="Enter" onClick={accept}>
            Yes
          </Button>
          <Button size={questionSize} keyHint="Esc" onClick={() => setSuggestion(null)}>
            No
          </Button>
        </div>
      )}
    </div>
  );
}
