import type { Case, CaseChange, CaseFeature, CaseKind, CaseMember, CauseAnswer, EventKind, RankedCause } from "./case";

/** What people did near the start of a change. */
export type FoundEvent = Readonly<{
  id: string;
  kind: EventKind;
  at: string;
  text: string;
  subject: string | null;
}>;

/** Where a change lies, by serials. */
export type FoundSpan = Readonly<{
  since: Readonly<{ serial: string; earliest: string; latest: string }>;
  /** Last frame of it; null while it goes on. */
  until: string | null;
}>;

/** What is found of a case, as it is kept: frames by serial instead of places. */
export type FoundCase = FoundSpan &
  Readonly<{
    kind: CaseKind;
    change: CaseChange;
    lead: CaseFeature;
    /** Clock hour towards which an offset moved; null for anything else. */
    towards: number | null;
    members: readonly CaseMember[];
    /** Most likely first, the excluded last. */
    causes: readonly RankedCause[];
    answer: CauseAnswer;
    /** Frame at which it was found. */
    foundAt: string;
    /** Frames from its first one to its last, or to the newest. */
    frames: number;
    /** Serials of frames outside a limit in what it moved. */
    outside: readonly string[];
    framesToLimit: number | null;
    events: readonly FoundEvent[];
    /** The times before where it is back again, oldest first. */
    earlier: readonly FoundSpan[];
  }>;

/** Where a case lies, by the serials of its line. */
export function spanOf({ since, until }: Pick<Case, "since" | "until">, serials: readonly string[]): FoundSpan {
  const at = (place: number): string => serials[place] ?? "";
  return {
    since: { serial: at(since.place), earliest: at(since.earliest), latest: at(since.latest) },
    until: until === null ? null : at(until),
  };
}

/** What is kept of a case. */
export function foundCase(
  found: Case,
  serials: readonly string[],
  more: Pick<FoundCase, "events" | "earlier">,
): FoundCase {
  const { kind, change, lead, towards, members, causes, answer, framesToLimit } = found;
  const last = found.until ?? serials.length - 1;
  return {
    ...spanOf(found, serials),
    kind,
    change,
    lead,
    towards,
    members,
    causes,
    answer,
    foundAt: serials[found.signals[0]?.place ?? last] ?? "",
    frames: last - found.since.place + 1,
    outside: found.outside.map((place) => serials[place] ?? ""),
    framesToLimit,
    ...more,
  };
}
