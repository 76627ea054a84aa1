import { formatCounted } from "@/lib/format/number-text";
import type { CaseEntryKind } from "@/lib/server/cases/case-entries";

/** Texts of cases: their list under Drift, and the page of one. */
export const CASE_WORDS = {
  pageTitle: "Case",
  title: (number: number) => `Case ${number}`,
  onLine: (line: string, operation: string, drawing: string) => `${line}, ${operation}, ${drawing}`,
  backToDrift: "Drift",
  list: {
    open: (open: number, over: number) => {
      if (open === 0) return "Drift is quiet";
      const cases = open === 1 ? "1 case is open" : `${open} cases are open`;
      if (over === 0) return cases;
      return over === open
        ? `${cases}, ${over === 1 ? "its change is over" : "their changes are over"}`
        : `${cases}, ${over} of them over`;
    },
    lead: (moved: number, streams: number) =>
      `Streams that move together are one case. The other ${streams - moved} of ${streams} streams are quiet.`,
    quietLead: (streams: number) => `Nothing moved that needs you; ${formatCounted(streams, "stream")} quiet.`,
    noneMine: "None of the open cases is yours",
    noneMineHint: "Choose “all lines” above to see those of others.",
    heading: "Open",
    headingAside: "the newest first",
    closed: "Closed cases",
    closedAside: "the last ten",
    closedSince: (sentence: string, day: string) =>
      `${sentence.replace(/^./, (letter) => letter.toUpperCase())}, ${day}`,
    again: (times: number) => `came ${times} times`,
    gone: "stands no more",
    scheme: (budget: string, streams: string, version: number) =>
      `The plant bears ${budget} false cases a working week in all, shared by ${streams} (version ${version} of the scheme).`,
    schemeHeading: "False cases",
    schemeAside: (budget: string) => `budget: ${budget} a week`,
    changeBudget: "Change the budget",
    budget: "false cases a working week, in all",
    budgetHint: "Fewer find changes a little later. Streams that join share it, which is a new version.",
    setBudget: "Spread it anew",
    budgetSet: "Spread anew; frames measured from now on are tested by it.",
    noScheme: "Nothing is watched yet.",
  },
  open: {
    headline: (line: string, sentence: string) => `On ${line} ${sentence}`,
    about: (lineName: string, operation: string, since: string, serial: string, others: number) =>
      `${lineName}, ${operation}. Since ${serial}, ${since}.${others === 0 ? "" : ` ${formatCounted(others, "stream")} moved with it.`}`,
    offsetTo: (clock: string) => `offset to ${clock}`,
    between: (earliest: string, latest: string) =>
      earliest === latest ? `began with ${latest}` : `began between ${earliest} and ${latest}`,
    rowAlternative: (name: string, change: string, serial: string) => `${name}: ${change} since ${serial}`,
    targetAlternative: (size: string, clock: string) =>
      `Offset of the NDS seat from the DS axis: moved ${size} towards ${clock}, as seen from the drive side`,
    probable: "probable cause",
    assigned: "assigned cause",
    owner: "owner, since it began",
    ownerAge: (owner: string | null, age: string) => `${owner ?? "nobody has it"}, ${age}`,
    now: "now",
    goesOn: "goes on",
    over: (moment: string) => `over since ${moment}`,
    gone: "stands no more",
    cost: "what it costs",
  },
  weeks: {
    flag: (number: number, isFalse: boolean) => (isFalse ? `case ${number}, nothing was behind it` : `case ${number}`),
    week: (from: string) => `from ${from}`,
    inside: (count: number, weeks: number) =>
      count === 0
        ? `None of the last ${weeks} weeks’ cases was false.`
        : `${count} of the last ${weeks} weeks’ cases had nothing behind ${count === 1 ? "it" : "them"}.`,
  },
  facts: {
    where: "where",
    since: "since",
    now: "now",
    stillSo: "still so",
    overSince: (moment: string) => `over since ${moment}`,
    closedOn: (moment: string) => `closed ${moment}`,
    size: "how much",
    cost: "what it costs",
    owner: "owner",
    nobody: "nobody",
    cause: "assigned cause",
    noCause: "none yet",
    batches: "batches that it explains",
    held: "held",
    streams: "streams",
    earlier: "before",
    from: (since: string, until: string | null) => (until === null ? `from ${since}` : `${since} to ${until}`),
  },
  picture: {
    heading: "What moved, together",
    since: (serial: string) => `since ${serial}`,
    between: (earliest: string, latest: string) => (earliest === latest ? "" : `between ${earliest} and ${latest}`),
    outside: "outside its limit",
    alternative: (stream: string, serial: string) => `${stream}, frames round ${serial}, the first one of the case.`,
  },
  causes: {
    heading: "What it may be",
    aside: "the likeliest first",
    table: "Causes, the likeliest first",
    cause: "cause",
    why: "reasons for and against",
    likely: "likely",
    possible: "possible",
    excluded: "excluded",
    state: "as it stands",
  },
  events: { heading: "What was done near its start", none: "Nothing was entered near its start." },
  history: {
    heading: "History",
    table: "What happened to this case",
    when: "when",
    what: "what",
    by: "by",
    words: "in words",
    itself: "Shellgate",
  },
  entry: {
    opened: "opened",
    over: "the change is over",
    back: "came back",
    late: "readings came late; it stays closed",
    gone: "stands no more",
    joined: "one change with another case",
    earlier: "closed: it was over before cases were kept",
    owner: "given to",
    step: "step",
    cause: "cause assigned",
    closed: "closed",
    reopened: "opened again",
  } satisfies Record<CaseEntryKind, string>,
  nobodyNow: "nobody",
  withNewLevel: "with a new level",
  goneBecause: {
    withdrawn: "The inspection that made it was withdrawn. Close it if nothing else speaks for it.",
    changed: "Readings that came late changed what its streams say. Close it if nothing else speaks for it.",
  },
  act: {
    heading: "What is done about it",
    owner: "who has it",
    give: "Give the case",
    given: "Given.",
    step: "what was done or found",
    stepHint: "Lock the machine out before you reach into it.",
    note: "Note the step",
    noted: "Noted.",
    cause: "cause",
    causeHint: "What the readings exclude is not offered.",
    own: "or one of your own",
    assign: "Assign the cause",
    assigned: "Assigned. The case stays open until it is closed.",
    reason: "reason, in a few words",
    newLevel: "It stays like this: take what is measured since as normal",
    close: "Close the case",
    closed: "Closed.",
    reopen: "Open it again",
    reopened: "Open again.",
  },
} as const;
