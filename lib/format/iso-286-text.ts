import type { BoreInIso286 } from "../quality/bore-in-iso-286";
import { formatFixed } from "./number-text";

/** Limits from nominal with what ISO 286 calls them: "−17 / −42 µm, P7", "0 / −50 µm, between IT8 and IT9". */
export function iso286Text({ upperUm, lowerUm, toleranceClass, finer, coarser }: BoreInIso286): string {
  const limits = `${formatFixed(upperUm, 0)} / ${formatFixed(lowerUm, 0)} µm`;
  if (toleranceClass !== null) return `${limits}, ${toleranceClass}`;
  if (finer !== null && finer === coarser) return `${limits}, as wide as ${finer}`;
  if (finer === null) return `${limits}, narrower than any grade`;
  return coarser === null ? `${limits}, wider than any grade` : `${limits}, between ${finer} and ${coarser}`;
}
