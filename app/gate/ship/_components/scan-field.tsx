import type { Ref } from "react";
import styles from "../ship.module.css";

type ScanFieldProps = Readonly<{
  ref: Ref<HTMLInputElement>;
  label: string;
  text: string;
  onText: (text: string) => void;
}>;

/** Where a scanner types. It takes the focus wherever it appears, and what was typed before stays. */
export function ScanField({ ref, label, text, onText }: ScanFieldProps) {
  return (
    <label className={styles.field}>
      <span>{label}</span>
      <input
        ref={ref}
        name="serial"
        className="mono"
        autoFocus
        autoComplete="off"
        autoCapitalize="characters"
        spellCheck={false}
        maxLength={64}
        value={text}
        onChange={(event) => onText(event.currentTarget.value)}
      />
    </label>
  );
}
