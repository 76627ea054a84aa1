import type { CompiledMeasurement, CoveredCharacteristic } from "../core/metrology/measure-frame";
import { sweepStepUm } from "../core/metrology/swept-section-regularity";
import { CHARACTERISTIC_UNIT, type CharacteristicName, type ShellDrawing } from "../core/metrology/shell-drawing";
import { noiseShare } from "../core/metrology/uncertainty-budget";
import type { WideningReason } from "./judging-reason";
import { boreStepUm } from "./rejected-reading-doubts";
import { temperatureGrowthMm } from "./temperature-rule";

/** A covered characteristic with its U for one inspection, and why it is larger than the plan's. */
export type InspectedCharacteristic = CoveredCharacteristic & { readonly widenedBy: readonly WideningReason[] };

/** Step of the readings that the budgets carry already, µm: that of the demonstration's gauges. */
const BUDGET_STEP_UM = 1;

/** Characteristics that rest on readings by the indicator and by the bore gauge. */
const SWEPT: readonly CharacteristicName[] = ["coaxiality", "tilt"];
const BORED: readonly CharacteristicName[] = ["bore", "ovality", "taper"];

/** Standard deviation of one reading by a coarser step than the budgets carry, µm. */
function stepNoiseUm(stepUm: number): number {
  return Math.sqrt(Math.max(0, (stepUm ** 2 - BUDGET_STEP_UM ** 2) / 12));
}

/**
 * U of each characteristic for one inspection: the plan's, grown with the step in which the readings were keyed and with the
 * distance from 20 C (GUM F.2.2.1 and F.2.4.5, from memory).
 *
 * @param temperatureC - of the part, null where nobody said
 */
export function inspectionUncertainty(
  drawing: ShellDrawing,
  compiled: CompiledMeasurement,
  { readings, temperatureC }: { readonly readings: readonly (number | null)[]; readonly temperatureC: number | null },
): InspectedCharacteristic[] {
  const sweepStep = sweepStepUm(compiled, readings);
  const boreStep = boreStepUm(compiled, readings);
  return compiled.covered.map((covered) => {
    const { name, seat, uncertainty } = covered;
    const widenedBy: WideningReason[] = [];
    let widened = uncertainty;
    const step = SWEPT.includes(name) ? sweepStep : BORED.includes(name) ? boreStep : 0;
    if (step > BUDGET_STEP_UM) {
      const standard = stepNoiseUm(step) * noiseShare(compiled.designs, drawing, name, seat);
      widened = Math.hypot(widened, 2 * (CHARACTERISTIC_UNIT[name] === "mm" ? standard / 1000 : standard));
      widenedBy.push({ code: "step", stepUm: step });
    }
    const grown = temperatureGrowthMm(drawing, name, temperatureC);
    if (grown > 0 && temperatureC !== null) {
      widened += grown;
      widenedBy.push({ code: "temperature", temperatureC });
    }
    return { ...covered, uncertainty: widened, widenedBy };
  });
}
