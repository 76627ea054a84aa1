import type { ReactNode } from "react";
import { MARK_OF_STATE, StateMark, type MarkedState } from "./state-mark";
import styles from "./verdict-banner.module.css";

const WORD_CLASS = {
  ok: styles.okWord,
  half: styles.halfWord,
  bar: styles.barWord,
  flag: styles.flagWord,
  wait: styles.waitWord,
};

type VerdictBannerProps = Readonly<{
  state: MarkedState;
  /** The word, if it is not the state's own. */
  word?: string;
  /** The one number that decided, with its limit. */
  finding?: ReactNode;
  counts?: readonly { readonly count: number; readonly word: string }[];
}>;

/** The answer, readable from two metres. */
export function VerdictBanner({ state, word, finding, counts = [] }: VerdictBannerProps) {
  const shape = MARK_OF_STATE[state];
  return (
    <section className={`${styles.banner} ${styles[shape]}`} aria-live="polite">
      <span className={styles.mark} aria-hidden="true">
        <StateMark state={state} size="fill" wordBeside />
      </span>
      <div className={styles.words}>
        <h1 className={`${styles.verdict} ${WORD_CLASS[shape]}`}>{word ?? state}</h1>
        {finding ? <p className={styles.finding}>{finding}</p> : null}
      </div>
      {counts.length > 0 ? (
        <ul className={styles.counts}>
          {counts.map((each) => (
            <li key={each.word}>
              <b>{each.count}</b>
              {each.word}
            </li>
          ))}
        </ul>
      ) : null}
    </section>
  );
}
