import { formatCounted } from "@/lib/format/number-text";

/** Texts of the front of Drift; cases, events, streams and the target have their own. */
export const DRIFT_WORDS = {
  title: "Drift",
  filter: "Filter by line",
  allLines: "all lines",
  mine: "mine",
  noValue: "no value",
  offset: "NDS offset",
  offsetNow: (now: string, limit: string | null) => (limit === null ? `${now} µm` : `${now} µm, limit ${limit} µm`),
  noStream: "There is no stream yet",
  noStreamHint:
    "A stream begins with the first frame that is measured at a station. Limits are provisional from 25 frames on.",
  noneOnLine: "Nothing was measured on this line",
  noneOnLineHint: "Choose another line above.",
  grid: {
    heading: (streams: number) => `All ${formatCounted(streams, "stream")}`,
    aside: "newest 60 frames; flag: in a case, blue: on watch",
    operation: (name: string) => name.replace(/^after /, ""),
    quiet: "quiet",
    inCase: (number: number) => `in case ${number}`,
    onWatch: "on watch",
    cell: (line: string, operation: string, name: string, value: string, state: string) =>
      `${line}, ${operation}, ${name}, ${value}, ${state}`,
    rows: {
      offset: "offset",
      tilt: "tilt",
      bore: "bore",
      spread: "spread in bore",
      ovality: "ovality",
      taper: "taper",
      face: "face run-out",
      width: "width",
    },
  },
  watch: {
    heading: "On watch",
    aside: "forecasts, nothing is outside",
    mark: "on watch",
    bothBores: "both bores",
    headline: (line: string, subject: string, tool: string) => `On ${line} ${subject}: reamer ${tool} wears`,
    when: (from: number, to: number, slope: string, limit: string) =>
      `The mean meets ${limit} in ${from} to ${to} frames (95 %), ${slope} smaller with each. Have another reamer ready.`,
  },
  foot: {
    shown: "shown",
    allShown: "all lines, all drawings",
    lineShown: (line: string) => `line ${line}`,
    alarms: "alarms",
    budget: (budget: string, version: number) =>
      version === 0
        ? "nothing is watched yet"
        : `${budget} false ${budget === "1" ? "case" : "cases"} a week, setting ${version}`,
    limits: "limit sets",
    approved: (approved: number, all: number) => `${approved} of ${all} approved`,
    asOf: "as of",
  },
} as const;
