import { useId, type ReactNode } from "react";
import { UI_WORDS } from "./words";
import styles from "./explained-value.module.css";

const words = UI_WORDS.explainedValue;

export type Explanation = Readonly<{
  /** What the number is, in full words. */
  title: string;
  /** The formula in words. */
  formula: string;
  inputs: readonly { readonly name: string; readonly value: string }[];
  /** Standard or source, with the edition. */
  standard: string;
  /** "±5.9 µm (k = 2)", or why it has none. */
  uncertainty: string;
  /** Assumptions and cautions. */
  note?: string;
}>;

/** A computed number that opens to its formula, inputs, standard and uncertainty. Works without script. */
export function ExplainedValue({ children, explanation }: Readonly<{ children: ReactNode; explanation: Explanation }>) {
  const id = useId();
  return (
    <>
      <button type="button" className={styles.open} popoverTarget={id} title={words.howWasComputed}>
        {children}
      </button>
      <div id={id} popover="auto" role="dialog" aria-label={explanation.title} className={styles.panel}>
        <b className={styles.title}>{explanation.title}</b>
        <span className={styles.value}>{children}</span>
        <dl>
          <dt>{words.how}</dt>
          <dd>{explanation.formula}</dd>
          <dt>{words.from}</dt>
          <dd>
            <ul className={styles.inputs}>
              {explanation.inputs.map((input) => (
                <li key={input.name}>
                  <span>{input.name}</span>
                  <b>{input.value}</b>
                </li>
              ))}
            </ul>
          </dd>
          <dt>{words.by}</dt>
          <dd>{explanation.standard}</dd>
          <dt>{words.uncertainty}</dt>
          <dd>{explanation.uncertainty}</dd>
        </dl>
        {explanation.note ? <p className={styles.note}>{explanation.note}</p> : null}
      </div>
    </>
  );
}
