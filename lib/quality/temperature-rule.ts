import {
  growthUmPerKelvin,
  REFERENCE_TEMPERATURE_C,
  sizeAtReference,
  type TemperatureRule,
  USUAL_TEMPERATURE_RULE,
} from "../core/metrology/reference-temperature";
import type { CompiledMeasurement } from "../core/metrology/measure-frame";
import type { CharacteristicName, ShellDrawing } from "../core/metrology/shell-drawing";
import type { JudgingDoubt } from "./judging-doubt";
import type { DoubtReason } from "./judging-reason";

/** Difference between part and ring that the budget of a size carries already, K (invented for the demonstration). */
export const BUDGET_KELVIN = 3;

/** Sizes grow with temperature; form and position hardly do. */
function sizeOf(drawing: ShellDrawing, name: CharacteristicName): number | null {
  if (name === "bore") return drawing.nominalBoreMm;
  return name === "width" ? drawing.widthMm : null;
}

/** Kelvin from 20 C beyond those that the budget carries. */
export function kelvinBeyond(temperatureC: number | null): number {
  if (temperatureC === null) return 0;
  return Math.max(0, Math.abs(temperatureC - REFERENCE_TEMPERATURE_C) - BUDGET_KELVIN);
}

/**
 * What U of a size grows by, mm: the expansion of the part over the kelvin beyond the budget's, as the ring may be at 20 C. It is a
 * known deviation that is not corrected, so that it adds to U as it is.
 *
 * Source: GUM F.2.4.5 (a known correction that is not applied enlarges U), from memory; expansion: that of the drawing.
 */
export function temperatureGrowthMm(
  drawing: ShellDrawing,
  name: CharacteristicName,
  temperatureC: number | null,
): number {
  const sizeMm = sizeOf(drawing, name);
  const { expansionPerMegakelvin } = drawing.shellMaterial;
  if (sizeMm === null) return 0;
  return (Math.abs(growthUmPerKelvin(sizeMm, expansionPerMegakelvin)) * kelvinBeyond(temperatureC)) / 1000;
}

/** A size at 20 C, the part alone being warm or cold and the ring at 20 C; null where the budget carries the difference. */
export function valueAtReference(
  drawing: ShellDrawing,
  name: CharacteristicName,
  { value, temperatureC }: { readonly value: number | null; readonly temperatureC: number | null },
): number | null {
  if (value === null || temperatureC === null || sizeOf(drawing, name) === null || kelvinBeyond(temperatureC) === 0)
    return null;
  return sizeAtReference(value, temperatureC, drawing.shellMaterial.expansionPerMegakelvin, 0);
}

/** Doubts about sizes from a temperature outside the plan's range, or one that the plan asks for and nobody read. */
export function temperatureDoubts(
  { covered, options }: Pick<CompiledMeasurement, "covered" | "options">,
  temperatureC: number | null,
): JudgingDoubt[] {
  const { fromC, toC, asked }: TemperatureRule = options.temperature ?? USUAL_TEMPERATURE_RULE;
  const isMissing = temperatureC === null && asked;
  if (!isMissing && (temperatureC === null || (temperatureC >= fromC && temperatureC <= toC))) return [];
  const reason: DoubtReason =
    temperatureC === null ? { code: "temperature-unknown" } : { code: "temperature-outside", temperatureC, fromC, toC };
  return covered.flatMap(({ name, seat }): JudgingDoubt[] =>
    name === "bore" || name === "width" ? [{ name, seat, code: "temperature", reason, alsoFailure: true }] : [],
  );
}
