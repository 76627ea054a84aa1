import type { ToldCause } from "@/lib/format/cause-words";
import { keepWhole } from "@/lib/ui/keep-whole";
import { SectionHeading } from "@/lib/ui/page-frame";
import { GATE_WORDS } from "../../../words";
import styles from "../batch.module.css";

const words = GATE_WORDS.cause;

/** Whose cause the evidence speaks for, point by point with its numbers, before anything is decided. */
export function CauseList({ cause }: Readonly<{ cause: ToldCause }>) {
  if (cause.points.length === 0) return null;
  return (
    <section aria-label={words.whoseCause}>
      <SectionHeading>{words.whoseCause}</SectionHeading>
      <p>
        <b>{words.headline[cause.side]}</b> <span className="soft">{words.noProof}</span>
      </p>
      <ul className={styles.causes}>
        {cause.points.map((point) => (
          <li key={point.text}>
            <b>{words.speaksFor[point.side]}</b>
            <span>{keepWhole(point.text)}</span>
          </li>
        ))}
      </ul>
    </section>
  );
}
