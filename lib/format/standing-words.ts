import type { FeatureName } from "../core/metrology/features";
import type { StreamStanding } from "../quality/stream-standing";
import { answerWords, changeWords, sinceWords } from "./case-words";
import { formatCount, formatCounted } from "./number-text";
import { findingHeadline, findingSentence } from "./stream-words";

/** Number in the stream of a frame that a standing names by its place. */
type FrameNumber = (place: number) => number;

/** How a stream stands, as a headline without its name. */
export function standingHeadline(standing: StreamStanding, feature: FeatureName, numberOf: FrameNumber): string {
  switch (standing.kind) {
    case "case": {
      const { found, number, overAt } = standing.case;
      const towards = feature === "ds.tilt" ? found.towards : null;
      const since = `${changeWords(found.kind, standing.change, towards)} since ${found.since.serial}`;
      return `${since}, case ${number}${overAt === null ? "" : ", over"}`;
    }
    case "outside":
      return `${standing.frames.length} of the newest ${formatCounted(standing.of, "frame")} outside the limit`;
    case "forecast":
      return `near its ${standing.left.limit} limit`;
    case "noticed":
      return findingHeadline(standing.finding, feature, numberOf);
    case "restless":
      return "varies more than its chart expects";
    case "few":
    case "steady":
      return findingHeadline(standing, feature, numberOf);
  }
}

/** What is behind the headline, in a sentence or two. */
export function standingSentence(standing: StreamStanding, feature: FeatureName, numberOf: FrameNumber): string {
  switch (standing.kind) {
    case "case": {
      const { found, overAt } = standing.case;
      const end = overAt === null || found.until === null ? "" : ` until ${found.until}`;
      const others =
        standing.others.length === 0
          ? ""
          : ` Open as well: ${standing.others.map((number) => `case ${number}`).join(", ")}.`;
      return `${answerWords(found.answer)} ${sinceWords(found).replace(/^./, (c) => c.toUpperCase())}${end}.${others}`;
    }
    case "outside":
      return "No open case explains them yet; the next look of the program, within a minute, may open one.";
    case "forecast":
      return `The line of its tool meets the limit, narrowed by the uncertainty, in about ${formatCounted(Math.max(0, Math.round(standing.left.estimate)), "frame")}.`;
    case "noticed":
      return `${findingSentence(standing.finding, feature, numberOf)} No case is open for it.`;
    case "restless":
      return `${standing.because.replace(/^./, (c) => c.toUpperCase())}. No frame is outside its limit but those of closed cases.`;
    case "few":
    case "steady":
      return findingSentence(standing, feature, numberOf);
  }
}

/** What to do about a stream: strong only where somebody has to act. */
export type StreamAdvice = { readonly tone: "signal" | "ok"; readonly title: string; readonly why: string };

/** "within 12 frames"; less than one frame is now. */
const framesWords = (frames: number): string =>
  frames < 1 ? "now" : `within ${formatCounted(Math.floor(frames), "frame")}`;

/**
 * The one thing to do next.
 *
 * @param tool - in use, null where it is not known
 */
export function standingAdvice(
  standing: StreamStanding,
  where: { readonly line: string; readonly tool: string | null },
): StreamAdvice {
  switch (standing.kind) {
    case "case": {
      const { number, overAt, found } = standing.case;
      return overAt === null
        ? { tone: "signal", title: `Work on case ${number}`, why: answerWords(found.answer) }
        : {
            tone: "signal",
            title: `Say what it was and close case ${number}`,
            why: `The change is over. ${answerWords(found.answer)}`,
          };
    }
    case "outside":
      return {
        tone: "signal",
        title: "Look at the frames outside the limit",
        why: "Each has its verdict and its reasons in its record.",
      };
    case "forecast": {
      const { left, framesPerDay } = standing;
      return {
        tone: "signal",
        title: `Change the reamer${where.tool === null ? "" : ` ${where.tool}`} ${framesWords(left.untilBound ?? 0)}`,
        why: `Up to then a frame still conforms with 95 % confidence. ${where.line} makes about ${formatCount(Math.round(framesPerDay))} a day.`,
      };
    }
    case "noticed":
      return {
        tone: "ok",
        title: "Nothing to do",
        why: "It is less than what drawing, zero check and ordinary differences allow, or its case is closed. A case opens when it matters.",
      };
    case "restless":
      return {
        tone: "ok",
        title: "Nothing to do",
        why: "Nothing is outside that no case explains. Capability is stated again when those frames are no longer among the newest.",
      };
    case "few":
      return {
        tone: "ok",
        title: "Nothing to do yet",
        why: "Go on measuring: with more frames it can be said where the stream goes.",
      };
    case "steady":
      return {
        tone: "ok",
        title: "Nothing to do",
        why: "The process runs as its baseline did; adjusting it now would only add variation.",
      };
  }
}
