import type { FeltSide, FeltSubject } from "../core/metrology/felt-subject";

/** What was decided of one inspection; a subject that is missing is open. */
export type FeltSides = Readonly<Partial<Record<FeltSubject, FeltSide>>>;

/** True where feeling and reading contradict each other, or one rejects what the other lets pass, and nobody has decided. */
export function isFeltContradiction(code: string | undefined): boolean {
  return code === "felt-contradicts" || code === "felt-reject";
}
