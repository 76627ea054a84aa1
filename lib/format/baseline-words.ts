import type { FeatureName } from "../core/metrology/features";
import { streamName } from "./stream-words";

/** That a gauge is too coarse for what streams of a line vary by, as a sentence; line null: the file names none. */
export function unresolvedWords(line: string | null, streams: readonly (FeatureName | "offset")[]): string {
  const names = streams.map((key) => (key === "offset" ? key : streamName(key))).join(", ");
  const where = line === null ? "" : ` on line ${line}`;
  return `The gauge does not resolve the variation of ${names}${where}: only a frame outside its limit and a changed share of the commonest reading are told.`;
}
