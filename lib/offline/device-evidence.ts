import type { CompiledMeasurement } from "@/lib/core/metrology/measure-frame";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { feltIn, type InspectionEvidence } from "@/lib/quality/inspection-evidence";
import type { JudgingDoubt } from "@/lib/quality/judge-frame";
import type { RecordInspection } from "@/lib/schemas/inspection";

/** A finished inspection as this device judges it, with what the device knows of the gauges. */
export function deviceEvidence(
  drawing: ShellDrawing,
  compiled: CompiledMeasurement,
  { id, readings, attributes = {} }: Pick<RecordInspection, "id" | "readings" | "attributes">,
  doubts: readonly JudgingDoubt[],
): InspectionEvidence {
  return {
    key: id,
    label: "this inspection",
    drawing,
    compiled,
    readings,
    offScale: [],
    planCounts: true,
    felt: feltIn(attributes),
    temperatureC: attributes.temperatureC ?? null,
    doubts,
  };
}
