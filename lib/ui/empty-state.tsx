import type { ReactNode } from "react";
import { keepWhole } from "./keep-whole";
import styles from "./notice.module.css";
import { MARK_DRAWINGS } from "./state-mark";

/** Nothing here yet: says why, and what to do to change it. */
export function EmptyState({
  title,
  children,
  keys,
}: Readonly<{ title: string; children?: ReactNode; keys?: ReactNode }>) {
  return (
    <div className={styles.empty}>
      <svg className={styles.ring} viewBox="0 0 24 24" aria-hidden="true">
        {MARK_DRAWINGS.wait}
      </svg>
      <h2>{keepWhole(title)}</h2>
      {children ? <p>{keepWhole(children)}</p> : null}
      {keys ? <div className={styles.keys}>{keys}</div> : null}
    </div>
  );
}
