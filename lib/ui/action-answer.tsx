import type { ReactNode } from "react";
import type { ActionResult } from "../schemas/action-result";
import { ErrorNotice } from "./error-notice";
import type { Problem } from "./problem-list";
import { refusalWords } from "./refusal-words";
import { StatusLine } from "./status-line";

/** What became of an action: why not, or what was done. The line is always there, so that it is read aloud. */
export function ActionAnswer<T>({
  result,
  refused,
  unmarked,
  children,
}: Readonly<{
  result: ActionResult<T> | null;
  /** What did not happen, as a sentence. */
  refused: string;
  /** Problems that stand at no field of the form; without it all that the answer names. */
  unmarked?: readonly Problem[];
  /** What was done, as a sentence. */
  children?: ReactNode;
}>) {
  if (result?.ok !== false) return <StatusLine>{result === null ? "" : children}</StatusLine>;
  const { error } = result;
  const problems = unmarked ?? error.fields ?? [];
  return (
    <ErrorNotice
      title={refused}
      problems={problems}
      {...(error.eventId === undefined ? {} : { reference: error.eventId })}
    >
      <p>{refusalWords(error, problems.length === 0)}</p>
    </ErrorNotice>
  );
}
