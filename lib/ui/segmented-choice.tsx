"use client";

import styles from "./segmented-choice.module.css";

type SegmentedChoiceProps<T extends string> = Readonly<{
  name: string;
  /** The words in front: "I stand at the". */
  label: string;
  choices: readonly { readonly value: T; readonly label: string; readonly disabled?: boolean }[];
  value: T;
  onChange: (value: T) => void;
  touch?: boolean;
  labelAbove?: boolean;
}>;

export function SegmentedChoice<T extends string>({
  name,
  label,
  choices,
  value,
  onChange,
  touch = false,
  labelAbove = false,
}: SegmentedChoiceProps<T>) {
  return (
    <div
      role="radiogroup"
      aria-label={label}
      className={[styles.choice, touch ? styles.touch : "", labelAbove ? styles.above : ""].filter(Boolean).join(" ")}
    >
      <span className={styles.label} aria-hidden="true">
        {label}
      </span>
      <span className={styles.options}>
        {choices.map((choice) => (
          <label key={choice.value} className={styles.option}>
            <input
              type="radio"
              name={name}
              value={choice.value}
              checked={choice.value === value}
              disabled={choice.disabled}
              onChange={() => onChange(choice.value)}
            />
            <span>{choice.label}</span>
          </label>
        ))}
      </span>
    </div>
  );
}
