import type { ReactNode } from "react";
import { keepWhole } from "./keep-whole";
import { UI_WORDS } from "./words";
import styles from "./page-frame.module.css";

const words = UI_WORDS.pageFrame;

/** One sheet under the rail: head, body, and the title block at the foot. */
export function PageFrame({
  head,
  titleBlock,
  children,
}: Readonly<{ head?: ReactNode; titleBlock?: ReactNode; children: ReactNode }>) {
  return (
    <main id="main" className={styles.frame}>
      {head}
      <div className={styles.body}>{children}</div>
      {titleBlock}
    </main>
  );
}

/** The finding as a headline, what is behind it in one line, and the state at the right. */
export function PageHead({
  title,
  lead,
  status,
}: Readonly<{ title: ReactNode; lead?: ReactNode; status?: ReactNode }>) {
  return (
    <header className={styles.head}>
      <div className={styles.headText}>
        <h1 className={styles.title}>{keepWhole(title)}</h1>
        {lead ? <p className={styles.lead}>{keepWhole(lead)}</p> : null}
      </div>
      {status ? <div className={styles.status}>{keepWhole(status)}</div> : null}
    </header>
  );
}

/** A panel with a hairline round it. `decision` is the heavy border: one a screen, where a person signs. */
export function Sheet({
  children,
  padded = true,
  decision = false,
  joined = false,
  label,
}: Readonly<{ children: ReactNode; padded?: boolean; decision?: boolean; joined?: boolean; label?: string }>) {
  const classes = [
    styles.sheet,
    padded ? styles.padded : "",
    decision ? styles.decision : "",
    joined ? styles.joined : "",
  ];
  return (
    <section className={classes.filter(Boolean).join(" ")} aria-label={label}>
      {children}
    </section>
  );
}

/** Heading of a section on a strong line, with a quiet remark at the right. */
export function SectionHeading({ children, aside }: Readonly<{ children: ReactNode; aside?: ReactNode }>) {
  return (
    <h2 className={styles.section}>
      <span>{keepWhole(children)}</span>
      {aside ? <span className={styles.aside}>{keepWhole(aside)}</span> : null}
    </h2>
  );
}

/** What to do, in the largest words after the finding. */
export function ActionPanel({
  tone,
  kicker = words.whatToDo,
  title,
  children,
  keys,
}: Readonly<{
  tone: "blue" | "signal" | "no" | "ok";
  kicker?: string;
  title: ReactNode;
  children?: ReactNode;
  keys?: ReactNode;
}>) {
  return (
    <section className={`${styles.action} ${styles[tone]}`}>
      <h2 className={styles.kicker}>{kicker}</h2>
      <p className={styles.big}>{keepWhole(title)}</p>
      {children}
      {keys ? <div className={styles.keys}>{keys}</div> : null}
    </section>
  );
}
