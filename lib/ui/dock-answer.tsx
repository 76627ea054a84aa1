import type { ReactNode } from "react";
import { UI_WORDS } from "./words";
import styles from "./dock-answer.module.css";
import { StateMark } from "./state-mark";

const words = UI_WORDS.dockAnswer;

type DockAnswerProps = Readonly<{
  /** `again`: nobody knows the serial, and it is nearly that of a frame. */
  answer: "go" | "stop" | "again";
  serial: string;
  /** What the frame is, in a few words. */
  what?: ReactNode;
  /** Where and who: "dock 1, K. Brandl". */
  place: string;
  reasons: readonly { readonly title: string; readonly detail?: ReactNode }[];
  /** The one key: scan the next frame. */
  next: ReactNode;
  /** When it was asked and answered, with seconds: a stale screen shows its age. */
  answered: string;
  tally?: string;
}>;

const MARK = { go: "go", stop: "stop", again: "unmeasured" } as const;
const WORD_CLASS = { go: styles.goWord, stop: "", again: styles.againWord } as const;

/** May this frame ship? Go and stop differ in brightness, mark and word, not in hue alone. */
export function DockAnswer({ answer, serial, what, place, reasons, next, answered, tally }: DockAnswerProps) {
  const isStop = answer === "stop";
  return (
    <div className={isStop ? `${styles.page} ${styles.stopPage}` : styles.page}>
      <main id="main" className={styles.answer}>
        <header className={styles.head}>
          <b>{words.shipScan}</b>
          <span>{place}</span>
        </header>
        <p className={styles.serial}>{serial}</p>
        {what ? <p className={styles.what}>{what}</p> : null}
        <div className={`${styles.word} ${WORD_CLASS[answer]}`} role="alert">
          <span aria-hidden="true">
            <StateMark state={MARK[answer]} size="fill" wordBeside plainInk={answer !== "go"} />
          </span>
          <h1>{words[answer]}</h1>
        </div>
        <ul className={styles.reasons}>
          {reasons.map((reason) => (
            <li key={reason.title}>
              {reason.title}
              {reason.detail ? <small>{reason.detail}</small> : null}
            </li>
          ))}
        </ul>
        <div className={styles.end}>
          {next}
          <p className={styles.foot}>
            <span>{words.askedAndAnswered(answered)}</span>
            {tally ? <span>{tally}</span> : null}
          </p>
        </div>
      </main>
    </div>
  );
}
