/** A case on record: what it was made of when it was looked at last. */
export type RecordedCase = Readonly<{
  id: string;
  /** Its signals, first one first. */
  signals: readonly string[];
  state: "open" | "closed";
  /** Its first signal lies in the frames that were gathered: found no more, it stands no more. */
  isLookedAt: boolean;
}>;

/** A case as it was gathered now. */
export type GatheredCase = Readonly<{
  /** Its signals, first one first. */
  signals: readonly string[];
  /** Place of the earlier one in the list that this one is again. */
  backAgain: number | null;
}>;

/** What becomes of cases on record. Places count the gathered cases. */
export type MatchedCases = Readonly<{
  /** One record each: its gathered cases, the newest last, and the record that it is; null where it is new. */
  records: readonly Readonly<{ id: string | null; occurrences: readonly number[] }>[];
  /** Open records that turned out to be one change with another one. */
  joined: readonly Readonly<{ id: string; into: string }>[];
  /** Open records of which nothing was found any more. */
  gone: readonly string[];
}>;

/**
 * Which record each gathered case is: the one that it shares most signals with, of several the one that was opened first. A case
 * that is back again has the record of the one before. No record is ever in two, and none is lost.
 *
 * @param recorded - in the order in which they were opened, those that joined another one left out
 */
export function matchCases(recorded: readonly RecordedCase[], gathered: readonly GatheredCase[]): MatchedCases {
  const rootOf = (place: number): number => {
    const before = gathered[place]?.backAgain ?? null;
    return before === null || before >= place ? place : rootOf(before);
  };
  const groups = new Map<number, number[]>();
  gathered.forEach((_, place) => {
    const root = rootOf(place);
    groups.set(root, [...(groups.get(root) ?? []), place]);
  });
  const chains = [...groups.values()].map((occurrences) => ({
    occurrences,
    signals: new Set(occurrences.flatMap((place) => gathered[place]?.signals ?? [])),
  }));
  const taken = new Map<string, number>();
  for (const { id, signals } of recorded) {
    const shared = chains.map((chain) => signals.filter((signal) => chain.signals.has(signal)).length);
    const most = Math.max(0, ...shared);
    if (most > 0) taken.set(id, shared.indexOf(most));
  }
  const records = chains.map(({ occurrences }, chain) => {
    const own = recorded.filter(({ id }) => taken.get(id) === chain);
    return { id: own[0]?.id ?? null, occurrences };
  });
  const joined = recorded.flatMap(({ id, state }) => {
    const into = records[taken.get(id) ?? -1]?.id ?? null;
    return into === null || into === id || state === "closed" ? [] : [{ id, into }];
  });
  const gone = recorded.flatMap(({ id, state, isLookedAt }) =>
    state === "open" && isLookedAt && !taken.has(id) ? [id] : [],
  );
  return { records, joined, gone };
}
