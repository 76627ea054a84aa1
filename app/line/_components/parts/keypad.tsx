import type { DecimalSign } from "@/lib/format/number-text";
import styles from "./keypad.module.css";

type KeypadProps = Readonly<{
  text: string;
  decimal: DecimalSign;
  /** Readings of an indicator have a sign. */
  signed: boolean;
  onChange: (text: string) => void;
}>;

/** Large keys for gloves. */
export function Keypad({ text, decimal, signed, onChange }: KeypadProps) {
  const turned = text.startsWith("-") ? text.slice(1) : `-${text}`;
  const digits = (row: string) =>
    [...row].map((digit) => (
      <button key={digit} type="button" onClick={() => onChange(text + digit)}>
        {digit}
      </button>
    ));
  return (
    <div className={styles.keypad} role="group" aria-label="Keypad" onMouseDown={(event) => event.preventDefault()}>
      {digits("789")}
      <button
        type="button"
        className={styles.rub}
        aria-label="delete the last digit"
        onClick={() => onChange(text.slice(0, -1))}
      >
        delete
      </button>
      {digits("456")}
      {signed ? (
        <button type="button" className={styles.rub} aria-label="change the sign" onClick={() => onChange(turned)}>
          ±
        </button>
      ) : (
        <button type="button" className={styles.rub} onClick={() => onChange("")}>
          clear
        </button>
      )}
      {digits("1230")}
      <button type="button" aria-label="decimal sign" onClick={() => onChange(text + decimal)}>
        {decimal}
      </button>
    </div>
  );
}
