/** Texts of the front of Drift; cases, events, streams and the target have their own. */
export const DRIFT_WORDS = {
  title: "Drift",
  filter: "Filter by line",
  allLines: "all lines",
  noValue: "no value",
  limits: {
    approved: "",
    "not approved": ", limits not approved",
    provisional: ", provisional limits",
    none: ", no limits yet",
  },
  offset: "NDS offset, as a target",
  offsetNow: (now: string, limit: string | null) => (limit === null ? `${now} µm` : `${now} µm, limit ${limit} µm`),
  group: (line: string, operation: string, drawing: string) => `${line}, ${operation}, ${drawing}`,
  noStream: "There is no stream yet",
  noStreamHint:
    "A stream begins with the first frame that is measured at a station. Limits are provisional from 25 frames on.",
  noneOnLine: "Nothing was measured on this line",
  noneOnLineHint: "Choose another line above.",
} as const;
