import type { DecimalSign } from "@/lib/format/number-text";
import { LINE_PART_WORDS } from "../../words/parts";
import styles from "./keypad.module.css";

const words = LINE_PART_WORDS.keypad;

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
    <div
      className={styles.keypad}
      role="group"
      aria-label={words.keypad}
      onMouseDown={(event) => event.preventDefault()}
    >
      {digits("789")}
      <button
        type="button"
        className={styles.rub}
        aria-label={words.deleteLastDigit}
        onClick={() => onChange(text.slice(0, -1))}
      >
        {words.delete}
      </button>
      {digits("456")}
      {signed ? (
        <button type="button" className={styles.rub} aria-label={words.changeSign} onClick={() => onChange(turned)}>
          ±
        </button>
      ) : (
        <button type="button" className={styles.rub} onClick={() => onChange("")}>
          {words.clear}
        </button>
      )}
      {digits("1230")}
      <button type="button" aria-label={words.decimalSign} onClick={() => onChange(text + decimal)}>
        {decimal}
      </button>
    </div>
  );
}
