import "server-only";
import { chartedRow } from "@/lib/core/metrology/charted-features";
import { feltIn } from "@/lib/quality/inspection-evidence";
import { toldCharacteristics } from "@/lib/format/judging-words";
import type { ToldCharacteristic } from "@/lib/quality/judge-frame";
import { judgeInspection } from "@/lib/quality/judge-inspection";
import { offScaleOf, offScales, READING_STATES, untaken } from "@/lib/schemas/inspection";
import type { Verdict } from "@/lib/quality/verdict-words";
import type { CheckedInspection } from "./check-inspection";
import { gaugesByReading, type PlantEvidence } from "../evidence/stored-evidence";

/** What one inspection says by itself: little enough that hundreds can wait for their transaction. */
export type OwnFindings = {
  readonly verdict: Verdict;
  /** The evidence is against letting the frame pass. */
  readonly holds: boolean;
  /** Characteristics that do not conform. */
  readonly reasons: readonly ToldCharacteristic[];
  /** In the order of FEATURE_NAMES; null where it rests on an odd reading, too, so that no statistics take it. */
  readonly features: readonly (number | null)[];
};

type OwnInspection = Pick<
  CheckedInspection,
  "plan" | "input" | "doubts" | "states" | "station" | "gauges" | "gaugeKeys"
>;

/** Confirmed after question, or off the scale: in no statistics. */
const isOdd = (code: number): boolean => code === READING_STATES.indexOf("confirmed") || offScaleOf(code) !== null;

/**
 * What a checked inspection brings to the judging of its frame.
 *
 * @param options.label - how reasons name it
 * @param options.planCounts - whether its plan counts as a whole for the frame's batch
 */
export function checkedEvidence(
  { plan, input, doubts, states, station, gauges, gaugeKeys }: OwnInspection,
  { label, planCounts }: { readonly label: string; readonly planCounts: boolean },
): PlantEvidence {
  return {
    key: input.id,
    label,
    operationId: station.operationId,
    plan,
    drawing: plan.drawing,
    compiled: plan.compiled,
    readings: input.readings,
    offScale: offScales(states),
    ...untaken(states),
    planCounts,
    felt: feltIn(input.attributes ?? {}),
    temperatureC: input.attributes?.temperatureC ?? null,
    doubts,
    ...gaugesByReading(gauges, gaugeKeys),
  };
}

/** Measures and judges one inspection by its own plan. */
export function ownFindings(checked: OwnInspection): OwnFindings {
  const evidence = checkedEvidence(checked, { label: "this inspection", planCounts: true });
  const { measurement, judgement } = judgeInspection(evidence);
  return {
    verdict: judgement.verdict,
    holds: judgement.holdsFrame,
    reasons: toldCharacteristics(judgement.characteristics.filter((one) => one.verdict !== "conforms")),
    features: chartedRow(evidence.compiled, measurement, checked.states.map(isOdd)),
  };
}
