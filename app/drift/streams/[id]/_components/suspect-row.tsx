import type { Suspect } from "@/lib/quality/stream-suspects";
import { keepWhole } from "@/lib/ui/keep-whole";
import { STREAM_WORDS } from "../../words";
import styles from "../stream.module.css";

const words = STREAM_WORDS.suspect;

/** The answer in words, and whether it points at the factor. */
function answerWords({ answer }: Suspect): { readonly text: string; readonly yes: boolean } {
  switch (answer.kind) {
    case "alike":
      return { text: words.noMovedAlike(answer.levels.join(", ")), yes: false };
    case "differs":
      return { text: words.yesMovedOthersDid(answer.most), yes: true };
    case "came-with-it":
      return {
        text:
          answer.frames > 0
            ? words.perhapsCameBefore(answer.level, answer.frames)
            : words.perhapsCameWith(answer.level),
        yes: true,
      };
    case "one-level":
      return { text: words.cannotTellOnlyWasUsed(answer.level), yes: false };
    case "unknown":
      return { text: words.cannotTell, yes: false };
  }
}

/** What a change goes with: asked of gauge, fixture, inspector and reamer. */
export function SuspectRow({ suspects }: Readonly<{ suspects: readonly Suspect[] }>) {
  if (suspects.length === 0) return null;
  return (
    <dl className={styles.suspects}>
      {suspects.map((suspect) => {
        const { text, yes } = answerWords(suspect);
        return (
          <div key={suspect.factor}>
            <dt>{words.question[suspect.factor]}</dt>
            <dd className={yes ? styles.yes : undefined}>{keepWhole(text)}</dd>
          </div>
        );
      })}
    </dl>
  );
}
