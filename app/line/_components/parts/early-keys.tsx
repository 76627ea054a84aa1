import { FIRST_SCREEN_WORDS } from "../../words/first-screen";
import styles from "./parts.module.css";

const words = FIRST_SCREEN_WORDS.earlyKeys;

/** Something was typed before `what` was on the screen, and was not taken for it. */
export function earlyText(text: string, what: string): string {
  return words.wasTypedBeforeWasShown(text, what);
}

export function EarlyKeys({ text, what }: Readonly<{ text: string; what: string }>) {
  return (
    <p className={styles.refusal} role="alert">
      {earlyText(text, what)}
    </p>
  );
}
