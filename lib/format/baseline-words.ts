import type { ApprovalRefusal } from "../quality/alarm/approve-baseline";
import type { FeatureName } from "../core/metrology/features";
import { streamName } from "./stream-words";
import { countText } from "./value-text";

/** Why a baseline was not approved, with what to do. */
export function refusalWords(refusal: ApprovalRefusal): string {
  switch (refusal.code) {
    case "open-case":
      return "A case of this stream is open. Close it first, or approve the baseline because of it. The baseline in force stays.";
    case "too-few-frames":
      return `${countText(refusal.frames, "frame")} of these may be in a baseline, and it takes ${refusal.needed}. Choose a longer stretch, or wait for more frames.`;
    case "all-equal":
      return "All values of these frames are the same, so that nothing says what is usual. Choose other frames, or a gauge that shows more digits.";
    case "not-resolved":
      return "The gauge does not resolve the variation of these frames. Choose a gauge with a smaller step.";
  }
}

/** That a gauge is too coarse for what streams of a line vary by, as a sentence; line null: the file names none. */
export function unresolvedWords(line: string | null, streams: readonly (FeatureName | "offset")[]): string {
  const names = streams.map((key) => (key === "offset" ? key : streamName(key))).join(", ");
  const where = line === null ? "" : ` on line ${line}`;
  return `The gauge does not resolve the variation of ${names}${where}: only a frame outside its limit and a changed share of the commonest reading are told.`;
}
