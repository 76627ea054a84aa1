import Link from "next/link";
import { answerWords, causeName, measureWords } from "@/lib/format/case-words";
import type { CauseCode, SettlingMeasurement } from "@/lib/quality/cases/case";
import { factorOfCause, isAtTheMachine } from "@/lib/quality/why/factor-of-cause";
import type { CasePage } from "@/lib/server/cases/queries";
import { ActionPanel } from "@/lib/ui/page-frame";
import { keepWhole } from "@/lib/ui/keep-whole";
import { CASE_WORDS } from "../../words";
import styles from "../../cases.module.css";

const words = CASE_WORDS.todo;

/** The two that the readings cannot tell apart, and the measurement that does; null where none is known. */
function separation({ answer }: CasePage["found"]): readonly [SettlingMeasurement, string, string] | null {
  if (answer.kind === "either" && answer.measure !== null)
    return [answer.measure, causeName(answer.causes[0]), causeName(answer.causes[1])];
  if (answer.kind === "probable" && answer.twin !== null)
    return [answer.twin.measure, causeName(answer.cause), causeName(answer.twin.what as CauseCode)];
  return null;
}

function titleOf({ state, stands, overAt, found }: CasePage, separating: ReturnType<typeof separation>): string {
  if (state === "closed") return words.closed;
  if (!stands) return words.gone;
  if (overAt !== null) return words.over;
  return separating === null
    ? found.answer.kind === "unknown"
      ? words.look
      : answerWords(found.answer)
    : measureWords(separating[0]);
}

/** What to do next about a case, in the largest words: measure, look, or say what it was and close. */
export function CaseToDo({ page }: Readonly<{ page: CasePage }>) {
  const { state, stands, overAt, found, line, operation, streams } = page;
  const first = found.causes[0];
  const separating = separation(found);
  const isOpen = state === "open" && stands;
  const lead = streams.find(({ feature }) => feature === found.lead) ?? streams[0];
  const factor = factorOfCause(first?.cause);
  return (
    <ActionPanel tone={isOpen ? "blue" : "ok"} title={titleOf(page, separating)}>
      {isOpen && overAt !== null ? <p>{keepWhole(answerWords(found.answer))}</p> : null}
      {isOpen && overAt === null && separating !== null ? <p>{words.separates(separating[1], separating[2])}</p> : null}
      {isOpen && overAt === null && found.framesToLimit !== null ? <p>{words.toLimit(found.framesToLimit)}</p> : null}
      {isOpen && overAt === null && first !== undefined && isAtTheMachine(first.cause) ? <p>{words.lockOut}</p> : null}
      <p className={styles.links}>
        {lead === undefined ? null : <Link href={`/drift/why/${lead.id}?by=${factor}`}>{words.sideBySide}</Link>}
        {found.towards === null ? null : (
          <Link href={`/drift/target/${encodeURIComponent(line)}?operation=${encodeURIComponent(operation)}`}>
            {words.target}
          </Link>
        )}
        {isOpen ? <Link href={`/drift/events?line=${encodeURIComponent(line)}`}>{words.event}</Link> : null}
      </p>
    </ActionPanel>
  );
}
