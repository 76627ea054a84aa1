import { formatCounted } from "@/lib/format/number-text";
import type { Suspect, SuspectFactor } from "@/lib/quality/stream-suspects";
import { keepWhole } from "@/lib/ui/keep-whole";
import styles from "../stream.module.css";

const QUESTION: Record<SuspectFactor, string> = {
  gauge: "the gauge?",
  fixture: "the fixture?",
  inspector: "the inspector?",
  tool: "the reamer?",
};

/** The answer in words, and whether it points at the factor. */
function answerWords({ answer }: Suspect): { readonly text: string; readonly yes: boolean } {
  switch (answer.kind) {
    case "alike":
      return { text: `No. ${answer.levels.join(", ")} moved alike`, yes: false };
    case "differs":
      return { text: `Yes. ${answer.most} moved, the others did not or less`, yes: true };
    case "came-with-it":
      return {
        text:
          answer.frames > 0
            ? `Perhaps. ${answer.level} came ${formatCounted(answer.frames, "frame")} before`
            : `Perhaps. ${answer.level} came with it`,
        yes: true,
      };
    case "one-level":
      return { text: `Cannot tell: only ${answer.level} was used`, yes: false };
    case "unknown":
      return { text: "Cannot tell: too few frames of each", yes: false };
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
            <dt>{QUESTION[suspect.factor]}</dt>
            <dd className={yes ? styles.yes : undefined}>{keepWhole(text)}</dd>
          </div>
        );
      })}
    </dl>
  );
}
