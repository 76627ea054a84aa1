import type { CauseSide } from "../quality/cause-side";
import type { BatchCounts, TaskAbout, TaskKind, TodayTask } from "../quality/today/today-task";
import { answerWords, caseSentence, costWords, sinceWords } from "./case-words";
import { gaugeHeadline, gaugeStateStops } from "./gauge-words";
import { formatDuration } from "./date-text";
import { formatCounted } from "./number-text";

/** A task as it is read: what is so, how it is known, and the next step. */
export type TaskWords = { readonly sentence: string; readonly proof: string; readonly step: string };

/** What a row counts: "1 open case", "2 batches held". */
export const TASK_COUNT_WORDS: Readonly<Record<TaskKind, (count: number) => string>> = {
  escapes: (count) => (count === 1 ? "escape" : "escapes"),
  gauge: (count) => (count === 1 ? "gauge not good" : "gauges not good"),
  case: (count) => (count === 1 ? "open case" : "open cases"),
  batch: (count) => (count === 1 ? "batch held" : "batches held"),
  "first-off": (count) => (count === 1 ? "first-off" : "first-offs"),
  device: (count) => (count === 1 ? "device" : "devices"),
  job: (count) => (count === 1 ? "job failed" : "jobs failed"),
};

/** What is named by a count that is nought, in the strip of a quiet plant. */
export const QUIET_WORDS: Readonly<Record<TaskKind, string>> = {
  escapes: "escapes open",
  gauge: "gauges in doubt",
  case: "cases open",
  batch: "batches held",
  "first-off": "first-offs waiting",
  device: "devices waiting",
  job: "jobs failed",
};

const SIDE_WORDS: Readonly<Record<CauseSide, string>> = {
  ours: ", the cause is ours",
  supplier: ", the cause is the supplier’s",
  open: "",
};

function countsText({ frames, notConforming, notProven, unmeasured }: BatchCounts): string {
  const parts = [
    ...(notConforming === 0 ? [] : [`${notConforming} do not conform`]),
    ...(notProven === 0 ? [] : [`${notProven} not proven`]),
    ...(unmeasured === 0 ? [] : [`${unmeasured} not measured`]),
  ];
  const of = formatCounted(frames, "frame");
  return parts.length === 0 ? `${of}, all conform.` : `${of}: ${parts.join(", ")}.`;
}

/** What a task says, by the plant's clock. */
export function taskWords(about: TaskAbout, zone: string): TaskWords {
  switch (about.kind) {
    case "escapes":
      return {
        sentence: `${formatCounted(about.frames, "shipped frame")} ${about.frames === 1 ? "is" : "are"} in doubt`,
        proof: about.reason,
        step: "Say who was told and close them",
      };
    case "gauge":
      return {
        sentence: gaugeHeadline(about.gauge, about.state, about.reasons, zone),
        proof: gaugeStateStops(about.state),
        step: about.state === "in-doubt" ? "Check it on its ring" : "See its records",
      };
    case "case":
      return {
        sentence: `On ${about.line} ${caseSentence(about.found)}`,
        proof: [
          answerWords(about.found.answer),
          `${sinceWords(about.found).replace(/^./, (letter) => letter.toUpperCase())}.`,
          `${costWords(about.found, about.heldBatches)}.`,
        ].join(" "),
        step: caseStep(about),
      };
    case "batch":
      return {
        sentence: `${about.batch} is held${SIDE_WORDS[about.side]}`,
        proof: [
          `${about.supplier}, line ${about.line}, ${countsText(about.counts)}`,
          about.caseNumber === null ? "" : `Case ${about.caseNumber} explains it.`,
        ]
          .filter(Boolean)
          .join(" "),
        step: "Decide about its frames",
      };
    case "first-off":
      return {
        sentence:
          about.serial === null
            ? `${about.line}: the first frame is to be measured`
            : `${about.line}: first frame ${about.serial} ${about.conforms ? "waits for its release" : "does not conform"}`,
        proof: `Station ${about.station}, asked for by: ${about.why}.`,
        step:
          about.serial === null
            ? "Measure the first frame"
            : about.conforms
              ? "Release the line"
              : "Correct the machine, measure the next frame",
      };
    case "device":
      return {
        sentence:
          about.refused > 0
            ? `${about.device} has ${formatCounted(about.refused, "frame")} that ${about.refused === 1 ? "was" : "were"} refused`
            : `${about.device} keeps ${formatCounted(about.waiting, "frame")} that ${about.waiting === 1 ? "is" : "are"} not sent`,
        proof: `${about.station === null ? "No station" : `Station ${about.station}`}. The readings are safe on the device; their batch does not ship without them.`,
        step: about.refused > 0 ? "Read why, on the device" : "Bring it back into the network",
      };
    case "job":
      return {
        sentence: `${about.title}: ${formatCounted(about.failed, "job")} failed`,
        proof: "Nothing is lost: what it was to do waits.",
        step: "Read why and try again",
      };
  }
}

function caseStep({ isOver, cause, found }: Extract<TaskAbout, { kind: "case" }>): string {
  if (isOver) return cause === null ? "Name its cause and close it" : "Close it";
  if (found.answer.kind === "either") return "Tell the two causes apart";
  return cause === null ? "Find and name its cause" : "Follow it until it is over";
}

/** "3 things need you", and what a quiet plant says. */
export function todayHeadline(mine: number): string {
  if (mine === 0) return "Nothing needs you";
  return mine === 1 ? "1 thing needs you" : `${mine} things need you`;
}

/**
 * What stands under the headline: what is with others, how long the oldest waits, and messages that are not read.
 *
 * @param seesAll - the viewer sees every kind of task, so that nothing listed means that nothing waits
 */
export function todayLead(
  tasks: readonly TodayTask[],
  { nowMs, messages, seesAll }: { readonly nowMs: number; readonly messages: number; readonly seesAll: boolean },
): string {
  const others = tasks.filter(({ isMine }) => !isMine).length;
  const since = tasks.flatMap(({ sinceMs }) => sinceMs ?? []);
  return [
    ...(tasks.length === 0 && seesAll ? ["Nor anybody else."] : []),
    ...(others === 0 ? [] : [`${others} ${others === 1 ? "is" : "are"} with others.`]),
    ...(since.length === 0 ? [] : [`The oldest waits for ${formatDuration((nowMs - Math.min(...since)) / 1000)}.`]),
    ...(messages === 0 ? [] : [`${formatCounted(messages, "message")} to be read.`]),
  ].join(" ");
}

/** The verdicts of a line's day: "all 19 conform", "5 do not conform, 4 not proven". */
export function dayWords(verdicts: readonly string[]): string {
  const bad = verdicts.filter((verdict) => verdict === "does not conform").length;
  const doubtful = verdicts.filter((verdict) => verdict === "not proven").length;
  const rest = verdicts.filter((verdict) => !["conforms", "does not conform", "not proven"].includes(verdict)).length;
  if (verdicts.length === 0) return "nothing measured yet";
  if (bad + doubtful + rest === 0) return verdicts.length === 1 ? "it conforms" : `all ${verdicts.length} conform`;
  return [
    ...(bad === 0 ? [] : [`${bad} ${bad === 1 ? "does" : "do"} not conform`]),
    ...(doubtful === 0 ? [] : [`${doubtful} not proven`]),
    ...(rest === 0 ? [] : [`${rest} not measured whole`]),
  ].join(", ");
}
