import type { DecimalSign } from "@/lib/format/number-text";
import styles from "./line.module.css";

type KeypadProps = Readonly<{
  text: string;
  decimal: DecimalSign;
  /** Readings of an indicator have a sign. */
  signed: boolean;
  onChange: (text: string) => void;
}>;

const DIGITS = ["7", "8", "9", "4", "5", "6", "1", "2", "3"];

/** Large keys for gloves. */
export function Keypad({ text, decimal, signed, onChange }: KeypadProps) {
  const turned = text.startsWith("-") ? text.slice(1) : `-${text}`;
  return (
    <div className={styles.keypad} role="group" aria-label="Keypad" onMouseDown={(event) => event.preventDefault()}>
      {DIGITS.map((digit) => (
        <button key={digit} type="button" onClick={() => onChange(text + digit)}>
          {digit}
        </button>
      ))}
      {signed ? (
        <button type="button" aria-label="change the sign" onClick={() => onChange(turned)}>
          ±
        </button>
      ) : (
        <button type="button" aria-label="clear" onClick={() => onChange("")}>
          C
        </button>
      )}
      <button type="button" onClick={() => onChange(`${text}0`)}>
        0
      </button>
      <button type="button" aria-label="decimal sign" onClick={() => onChange(text + decimal)}>
        {decimal}
      </button>
      <button
        type="button"
        className={styles.rub}
        aria-label="rub out the last digit"
        onClick={() => onChange(text.slice(0, -1))}
      >
        rub out
      </button>
    </div>
  );
}
