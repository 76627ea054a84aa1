"use client";

import { useLayoutEffect, useRef } from "react";
import styles from "./reading-field.module.css";

type ReadingFieldProps = Readonly<{
  /** What is asked, for those who do not see the drawing. */
  label: string;
  unit: string;
  text: string;
  placeholder?: string;
  /** The screen's own keypad is open: the device's stays shut. */
  keypad: boolean;
  invalid: boolean;
  /** Something else has the focus: a dialog. */
  busy: boolean;
  /** Changes where something new is asked: the focus comes back. */
  asked: unknown;
  onText: (text: string) => void;
  /** Enter, or Tab after a number as gauges send it. */
  onCommit: (text: string) => void;
  /** True where Escape was taken. */
  onEscape?: () => boolean;
}>;

/** "40.968", or "-12.5": longer ones are set smaller, so that their first digit stays in sight. */
const USUAL_LENGTH = 6;

/** The large number of Line: takes keys, gauges and scanners wherever the focus is. */
export function ReadingField(props: ReadingFieldProps) {
  const { label, unit, text, placeholder = "", keypad, invalid, busy, asked, onText, onCommit, onEscape } = props;
  const input = useRef<HTMLInputElement>(null);
  // With the drawing of the screen, not after it: a key must never find the field there and the focus elsewhere.
  useLayoutEffect(() => {
    // Where the focus is there already, taking it again would only make the browser lay the screen out before its time.
    if (!busy && document.activeElement !== input.current) input.current?.focus({ preventScroll: true });
  }, [busy, asked, unit]);
  useLayoutEffect(() => {
    const take = (event: KeyboardEvent): void => {
      const target = event.target as HTMLElement | null;
      if (event.key.length !== 1 || event.ctrlKey || event.metaKey || event.altKey || event.key === " ") return;
      if (target?.closest("input:not([type=radio]), textarea, select, dialog")) return;
      input.current?.focus({ preventScroll: true });
    };
    document.addEventListener("keydown", take);
    return () => document.removeEventListener("keydown", take);
  }, []);
  return (
    <div className={styles.number}>
      <label className="visuallyHidden" htmlFor="reading">
        {label}
      </label>
      <input
        ref={input}
        id="reading"
        data-takes-keys
        className={text.length > USUAL_LENGTH ? `${styles.reading} ${styles.longReading}` : styles.reading}
        type="text"
        inputMode={keypad ? "none" : "decimal"}
        enterKeyHint="enter"
        autoComplete="off"
        autoCorrect="off"
        spellCheck={false}
        maxLength={64}
        value={text}
        size={1}
        placeholder={placeholder}
        aria-describedby="reading-answer"
        aria-invalid={invalid}
        onChange={(event) => onText(event.target.value)}
        onKeyDown={(event) => {
          if (event.nativeEvent.isComposing) return;
          if (event.key === "Escape" && onEscape?.() === true) {
            event.preventDefault();
            return;
          }
          const ends = event.key === "Enter" || (event.key === "Tab" && !event.shiftKey && text.trim() !== "");
          if (!ends) return;
          event.preventDefault();
          onCommit(event.currentTarget.value);
        }}
      />
      <span className={styles.unit} aria-hidden="true">
        {unit}
      </span>
    </div>
  );
}
