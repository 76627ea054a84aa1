"use client";

import { useLayoutEffect, useRef } from "react";
import { EarlyKeys } from "./early-keys";
import { useTypedText } from "./use-typed-text";
import { FIRST_SCREEN_WORDS } from "../../words/first-screen";
import styles from "./scan-field.module.css";

const words = FIRST_SCREEN_WORDS.scanField;

type ScanFieldProps = Readonly<{ label: string; placeholder?: string; onScan: (text: string) => void }>;

/** Takes a scan wherever the focus is, as long as nothing else is being typed into. */
export function ScanField({ label, placeholder, onScan }: ScanFieldProps) {
  const input = useRef<HTMLInputElement>(null);
  const { text, setText, early } = useTypedText("scan");
  // With the drawing of the screen, not after it: a key must never find the field there and the focus elsewhere.
  useLayoutEffect(() => {
    input.current?.focus({ preventScroll: true });
    const take = (event: KeyboardEvent): void => {
      const target = event.target as HTMLElement | null;
      if (event.key.length !== 1 || event.ctrlKey || event.metaKey || event.altKey) return;
      if (target?.closest("input:not([type=radio]), textarea, select, dialog, [contenteditable]")) return;
      input.current?.focus({ preventScroll: true });
    };
    document.addEventListener("keydown", take);
    return () => document.removeEventListener("keydown", take);
  }, []);
  return (
    <>
      <label className={styles.scan}>
        <span>{label}</span>
        <input
          ref={input}
          data-takes-keys
          value={text}
          placeholder={placeholder}
          autoComplete="off"
          autoCapitalize="characters"
          spellCheck={false}
          onChange={(event) => setText(event.target.value)}
          onKeyDown={(event) => {
            const ends = event.key === "Enter" || (event.key === "Tab" && !event.shiftKey && text.trim() !== "");
            if (!ends) return;
            event.preventDefault();
            if (text.trim() === "") return;
            onScan(text);
            setText("");
          }}
        />
      </label>
      {early === "" ? null : <EarlyKeys text={early} what={words.thisField} />}
    </>
  );
}
