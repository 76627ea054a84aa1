import { nonconformingBound } from "../core/sampling/nonconforming-bound";
import { countText, serialsText } from "../format/value-text";

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

/** What was found, and how many of the rest may be like it: a sentence with its numbers. */
export function sampleRiskText(risk: SampleRisk): string {
  const { frames, measured, found, unmeasured } = risk;
  const rest = frames - measured;
  const bound = unmeasuredBound(risk);
  const share = Math.round((bound / Math.max(1, rest)) * 100);
  const failed =
    found.length === 0
      ? `0 of ${countText(measured, "measured frame")} did not conform. `
      : `${found.length} of ${countText(measured, "measured frame")} did not conform, whatever became of them: ${serialsText(found)}. `;
  return (
    failed +
    `Of the ${countText(rest, "frame")} that nobody measured up to ${bound} (${share} %) may not conform (95 % bound, as if the measured ones were drawn at random)` +
    (unmeasured === rest ? "." : `; ${unmeasured} of them ${unmeasured === 1 ? "is" : "are"} still here.`)
  );
}
