/** What is kept of a case's entries that makes its steps. */
type Entry = {
  readonly id: string;
  readonly kind: string;
  readonly at: string;
  readonly by: string | null;
  readonly text: string | null;
  readonly data: Readonly<Record<string, unknown>>;
};

/** One step: what is to be done, or was. */
export type CaseStep = {
  readonly id: string;
  readonly text: string;
  readonly by: string | null;
  readonly at: string;
  /** Who did it and when, with what was found; null while it is to be done. */
  readonly done: { readonly by: string | null; readonly at: string; readonly found: string | null } | null;
};

/** The steps of a case in the order in which they were entered. What was not planned is done as it is noted. */
export function caseSteps(entries: readonly Entry[]): CaseStep[] {
  const ticked = new Map(entries.flatMap((one) => (one.kind === "ticked" ? [[one.data["stepId"], one] as const] : [])));
  return entries.flatMap(({ id, kind, at, by, text, data }): CaseStep[] => {
    if (kind !== "step") return [];
    const tick = ticked.get(id);
    const isDone = data["isPlanned"] !== true;
    const done =
      tick !== undefined ? { by: tick.by, at: tick.at, found: tick.text } : isDone ? { by, at, found: null } : null;
    return [{ id, text: text ?? "", by, at, done }];
  });
}
