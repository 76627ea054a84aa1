import styles from "./parts.module.css";

/** Something was typed before `what` was on the screen, and was not taken for it. */
export function earlyText(text: string, what: string): string {
  return `“${text}” was typed before ${what} was shown: it is not taken. Key it again if it is meant here.`;
}

export function EarlyKeys({ text, what }: Readonly<{ text: string; what: string }>) {
  return (
    <p className={styles.refusal} role="alert">
      {earlyText(text, what)}
    </p>
  );
}
