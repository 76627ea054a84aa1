import "server-only";
import { featureRow, type FrameMeasurement } from "@/lib/core/metrology/measure-frame";
import { feltEvidence, feltOf, feltWarnings } from "@/lib/quality/felt-evidence";
import { USUAL_MEANING_SETTINGS } from "@/lib/quality/frame-meaning";
import type { JudgedCharacteristic } from "@/lib/quality/judge-frame";
import type { Verdict } from "@/lib/quality/verdict-words";
import type { RecordInspection } from "@/lib/schemas/inspection";
import type { CheckedInspection } from "./check-inspection";
import { judgeInspection } from "./judge-together";
import type { PlanReference } from "./reference-data";

/** What one inspection says by itself: little enough that hundreds can wait for their transaction. */
export type OwnFindings = {
  readonly verdict: Verdict;
  /** The evidence is against letting the frame pass. */
  readonly holds: boolean;
  /** Characteristics that do not conform. */
  readonly reasons: readonly JudgedCharacteristic[];
  /** In the order of FEATURE_NAMES. */
  readonly features: readonly (number | null)[];
  /** Plugs and bar against the readings, in sentences: gauge problems, and a bar that does not pass. */
  readonly felt: readonly string[];
};

function feltIn(plan: PlanReference, input: RecordInspection, measurement: FrameMeasurement): readonly string[] {
  const { plugs, bars } = input.attributes ?? {};
  if (plugs === undefined && bars === undefined) return [];
  const tilts = plan.compiled.covered.filter(({ name }) => name === "tilt").map(({ uncertainty }) => uncertainty);
  const settings = { ...USUAL_MEANING_SETTINGS, tiltUncertaintyArcmin: Math.max(0, ...tilts) };
  return feltWarnings(feltEvidence(plan.drawing, measurement, feltOf({ plugs, bars }), settings));
}

/** Measures and judges one inspection by its own plan. */
export function ownFindings({
  plan,
  input,
  doubts,
}: Pick<CheckedInspection, "plan" | "input" | "doubts">): OwnFindings {
  const { measurement, judgement } = judgeInspection({ plan, readings: input.readings, doubts });
  return {
    verdict: judgement.verdict,
    holds: judgement.holdsFrame,
    reasons: judgement.characteristics.filter((one) => one.verdict !== "conforms"),
    features: featureRow(measurement),
    felt: feltIn(plan, input, measurement),
  };
}
