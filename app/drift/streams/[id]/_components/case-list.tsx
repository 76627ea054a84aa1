import Link from "next/link";
import { caseHeadline, causeName, sinceWords } from "@/lib/format/case-words";
import type { CauseCode } from "@/lib/quality/cases/case";
import type { StreamCase } from "@/lib/server/drift/stream-cases";
import { keepWhole } from "@/lib/ui/keep-whole";
import { STREAM_WORDS } from "../../words";
import styles from "../stream.module.css";

const words = STREAM_WORDS.cases;

function stateOf({ state, overAt, stands, cause }: StreamCase): string {
  if (state === "closed") return cause === null ? words.closed : words.closedAs(causeName(cause as CauseCode));
  if (!stands) return words.gone;
  return overAt === null ? words.goesOn : words.over;
}

/** Cases about a stream, the newest first; each opens its page. */
export function CaseList({ cases }: Readonly<{ cases: readonly StreamCase[] }>) {
  if (cases.length === 0) return <p className={styles.refusal}>{words.none}</p>;
  return (
    <ul className={styles.entries}>
      {cases.toReversed().map((one) => (
        <li key={one.id} className={one.state === "open" ? styles.openEntry : undefined}>
          <Link href={`/drift/cases/${one.id}`}>{words.named(one.number, stateOf(one))}</Link>
          <small>{keepWhole(`${caseHeadline(one.found)}, ${sinceWords(one.found)}`)}</small>
        </li>
      ))}
    </ul>
  );
}
