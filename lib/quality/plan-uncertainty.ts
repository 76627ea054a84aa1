import type { ReadingName, Seat } from "../core/metrology/reading-name";
import type { CharacteristicName, ShellDrawing } from "../core/metrology/shell-drawing";
import { planUncertainty } from "../core/metrology/uncertainty-budget";
import { guardBand } from "./conformity";

/** Share of a tolerance above which its uncertainty is warned about (numbers.md A10). */
export const UNCERTAINTY_SHARE_LIMIT = 0.25;

/** How much of a tolerance the uncertainty of a plan uses. */
export type PlannedCharacteristic = {
  readonly name: CharacteristicName;
  readonly seat: Seat | null;
  readonly uncertainty: number;
  /** U / (upper - lower), or U / upper for a one-sided limit; null without a limit. */
  readonly shareOfTolerance: number | null;
  /** True where U is over a quarter of the tolerance. */
  readonly large: boolean;
  /** True where the guard bands leave no value that can conform. */
  readonly eatsTolerance: boolean;
};

/**
 * What a plan's uncertainty leaves of each tolerance: said when a drawing or a plan is released.
 *
 * @throws CoreError on wrong names (from planUncertainty)
 */
export function assessPlanUncertainty(drawing: ShellDrawing, names: readonly ReadingName[]): PlannedCharacteristic[] {
  return planUncertainty(drawing, names).map(({ name, seat, uncertainty }) => {
    const limits = drawing.characteristics.find((candidate) => candidate.name === name);
    const guard = guardBand(drawing.decisionRule, uncertainty);
    const twoSided = limits !== undefined && limits.lower !== null && limits.upper !== null;
    const tolerance = twoSided ? (limits.upper ?? 0) - (limits.lower ?? 0) : (limits?.upper ?? null);
    const share = tolerance === null || !(tolerance > 0) ? null : uncertainty / tolerance;
    return {
      name,
      seat,
      uncertainty,
      shareOfTolerance: share,
      large: share !== null && share > UNCERTAINTY_SHARE_LIMIT,
      eatsTolerance: tolerance !== null && (twoSided ? 2 : 1) * guard >= tolerance,
    };
  });
}

/** The same in sentences, for those characteristics whose uncertainty is over a quarter of the tolerance. */
export function uncertaintyWarnings(drawing: ShellDrawing, names: readonly ReadingName[]): readonly string[] {
  return assessPlanUncertainty(drawing, names)
    .filter((one) => one.large)
    .map(({ name, seat, shareOfTolerance, eatsTolerance }) => {
      const where = seat === null ? "" : ` (${seat.toUpperCase()})`;
      const share = Math.round((shareOfTolerance ?? 0) * 100);
      return `The uncertainty of ${name}${where} is ${share} % of its tolerance${eatsTolerance ? ": no value can conform" : ""}.`;
    });
}
