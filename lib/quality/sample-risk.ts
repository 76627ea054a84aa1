import { nonconformingBound } from "../core/sampling/nonconforming-bound";

/** What a sampled batch's measured frames say about those that nobody measured. */
export type SampleRisk = {
  readonly frames: number;
  readonly measured: number;
  /** Serials of measured frames that did not conform, whatever became of them. */
  readonly found: readonly string[];
  /** Frames that nobody measured and that have not left by another decision. */
  readonly unmeasured: number;
  /** A signed decision takes the risk. */
  readonly isAccepted: boolean;
};

/** Upper 95 % bound of the nonconforming frames among those that nobody measured. */
export function unmeasuredBound({
  frames,
  measured,
  found,
}: Pick<SampleRisk, "frames" | "measured" | "found">): number {
  const most = nonconformingBound({ lot: frames, measured, found: found.length });
  return most - found.length;
}
