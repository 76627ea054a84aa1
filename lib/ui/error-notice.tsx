import type { ReactNode } from "react";
import { keepWhole } from "./keep-whole";
import { UI_WORDS } from "./words";
import styles from "./notice.module.css";
import { ProblemList, type Problem } from "./problem-list";
import { StateMark } from "./state-mark";

const words = UI_WORDS.errorNotice;

type ErrorNoticeProps = Readonly<{
  /** What happened, as a sentence. */
  title: string;
  /** What was kept and what to do next. */
  children?: ReactNode;
  problems?: readonly Problem[];
  /** Number under which the log knows it. */
  reference?: string;
  keys?: ReactNode;
  tone?: "error" | "caution";
}>;

export function ErrorNotice({ title, children, problems = [], reference, keys, tone = "error" }: ErrorNoticeProps) {
  return (
    <div className={`${styles.notice} ${styles[tone]}`} role="alert">
      <span className={styles.mark} aria-hidden="true">
        <StateMark state={tone === "error" ? "stop" : "not proven"} size="m" wordBeside />
      </span>
      <div>
        <h2 className={styles.title}>{keepWhole(title)}</h2>
        {children}
        <ProblemList problems={problems} />
        {reference ? (
          <p className={styles.reference}>{words.reference(<span className="mono">{reference}</span>)}</p>
        ) : null}
        {keys ? <div className={styles.keys}>{keys}</div> : null}
      </div>
    </div>
  );
}
