import type { ReactNode } from "react";
import { keepWhole } from "./keep-whole";
import styles from "./notice.module.css";
import { StateMark, type MarkedState } from "./state-mark";

type StatusLineProps = Readonly<{
  children?: ReactNode;
  state?: MarkedState;
  /** Long work: how much of how much. */
  progress?: { readonly done: number; readonly of: number; readonly label: string };
}>;

/** One line that says what was just done. It stays where it is and is read aloud; it never covers anything. */
export function StatusLine({ children, state, progress }: StatusLineProps) {
  return (
    <p className={styles.line} role="status">
      {state ? <StateMark state={state} size="s" wordBeside /> : null}
      {progress ? <progress value={progress.done} max={progress.of} aria-label={progress.label} /> : null}
      <span>{keepWhole(children)}</span>
    </p>
  );
}
