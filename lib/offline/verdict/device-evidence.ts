import type { CompiledMeasurement } from "@/lib/core/metrology/measure-frame";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { feltIn, type InspectionEvidence } from "@/lib/quality/inspection-evidence";
import type { JudgingDoubt } from "@/lib/quality/judging-doubt";
import { offScales, READING_STATES, type RecordInspection, untaken } from "@/lib/schemas/inspection";

/** A finished inspection as this device judges it, with what the device knows of the gauges. */
export function deviceEvidence(
  drawing: ShellDrawing,
  compiled: CompiledMeasurement,
  { id, readings, states = [], attributes = {} }: Pick<RecordInspection, "id" | "readings" | "states" | "attributes">,
  doubts: readonly JudgingDoubt[],
): InspectionEvidence {
  const codes = states.map((state) => READING_STATES.indexOf(state));
  return {
    key: id,
    label: "this inspection",
    drawing,
    compiled,
    readings,
    offScale: offScales(codes),
    ...untaken(codes),
    planCounts: true,
    felt: feltIn(attributes),
    temperatureC: attributes.temperatureC ?? null,
    doubts,
  };
}
