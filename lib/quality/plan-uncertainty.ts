import { compileMeasurement, type CoveredCharacteristic, type MeasuringOptions } from "../core/metrology/measure-frame";
import { USUAL_PLUG_FEEL } from "../core/metrology/plug-evidence";
import type { ReadingName, Seat } from "../core/metrology/reading-name";
import type { CharacteristicName, ShellDrawing } from "../core/metrology/shell-drawing";
import { guardBand } from "./conformity";
import { feltReach, type FeltReach } from "./felt-bounds";

/** Share of a tolerance above which its uncertainty is warned about (common practice, no source). */
export const UNCERTAINTY_SHARE_LIMIT = 0.25;

/** How much of a tolerance the uncertainty of a plan uses. */
export type PlannedCharacteristic = {
  readonly name: CharacteristicName;
  readonly seat: Seat | null;
  readonly uncertainty: number;
  /** The part of U by what the plan cannot see and the full plan can. */
  readonly unseen: number;
  /** U / (upper - lower), or U / upper for a one-sided limit; null without a limit. */
  readonly shareOfTolerance: number | null;
  /** True where U is over a quarter of the tolerance. */
  readonly large: boolean;
  /** True where the guard bands leave no value that can conform, or the trials no answers that prove it. */
  readonly eatsTolerance: boolean;
  /** What plugs and bars can prove, where no reading gives the characteristic. */
  readonly felt?: FeltReach;
};

/**
 * What a plan's uncertainty leaves of each tolerance: said when a drawing or a plan is released.
 *
 * @param options - what the plan says of its measuring; the known form of its stream enters U
 * @throws CoreError on wrong names (from compileMeasurement)
 */
export function assessPlanUncertainty(
  drawing: ShellDrawing,
  names: readonly ReadingName[],
  options: MeasuringOptions = {},
): PlannedCharacteristic[] {
  return compileMeasurement(names, drawing, options).covered.map((covered) => assess(drawing, names, covered));
}

function assess(
  drawing: ShellDrawing,
  names: readonly ReadingName[],
  covered: CoveredCharacteristic,
): PlannedCharacteristic {
  const { name, seat, uncertainty, unseen } = covered;
  const limits = drawing.characteristics.find((candidate) => candidate.name === name);
  const guard = guardBand(drawing.decisionRule, uncertainty);
  const felt =
    covered.felt === true ? feltReach(drawing, names, covered, USUAL_PLUG_FEEL.plugUncertaintyUm / 1000) : null;
  const twoSided = limits !== undefined && limits.lower !== null && limits.upper !== null;
  const tolerance = twoSided ? (limits.upper ?? 0) - (limits.lower ?? 0) : (limits?.upper ?? null);
  const share = tolerance === null || !(tolerance > 0) ? null : uncertainty / tolerance;
  return {
    name,
    seat,
    uncertainty,
    unseen,
    shareOfTolerance: share,
    large: felt === null && share !== null && share > UNCERTAINTY_SHARE_LIMIT,
    eatsTolerance: felt === null ? tolerance !== null && (twoSided ? 2 : 1) * guard >= tolerance : !felt.canConform,
    ...(felt === null ? {} : { felt }),
  };
}

/** What is to be said of a plan's uncertainty; `seat` null where it is of none, or of several alike. */
export type PlanWarning = { readonly name: CharacteristicName; readonly seat: Seat | null } & (
  | { readonly code: "large"; readonly shareOfTolerance: number; readonly eatsTolerance: boolean }
  /** Plugs and bars of the plan can never prove it; `canFail` where they can show it out of its limits. */
  | { readonly code: "felt"; readonly canFail: boolean }
  /** The plan does not see its form; `isKnown` where the stream's full plans say how large that is. */
  | { readonly code: "unseen"; readonly isKnown: boolean }
);

/** What a plan does not see, one for all seats with the same. */
function unseenWarnings(assessed: readonly PlannedCharacteristic[], isKnown: boolean): PlanWarning[] {
  const names = [...new Set(assessed.filter(({ unseen }) => unseen > 0).map(({ name }) => name))];
  return names.map((name) => {
    const [first, ...more] = assessed.filter((one) => one.name === name && one.unseen > 0);
    return { code: "unseen", name, seat: more.length === 0 ? (first?.seat ?? null) : null, isKnown };
  });
}

/**
 * The characteristics whose uncertainty is over a quarter of the tolerance, or that the plugs and bars of the plan can never prove
 * to conform; and what the plan does not see.
 */
export function uncertaintyWarnings(
  drawing: ShellDrawing,
  names: readonly ReadingName[],
  options: MeasuringOptions = {},
): readonly PlanWarning[] {
  const assessed = assessPlanUncertainty(drawing, names, options);
  const large = assessed
    .filter((one) => one.large || one.felt?.canConform === false)
    .map(({ name, seat, shareOfTolerance, eatsTolerance, felt }): PlanWarning =>
      felt === undefined
        ? { code: "large", name, seat, shareOfTolerance: shareOfTolerance ?? 0, eatsTolerance }
        : { code: "felt", name, seat, canFail: felt.canFail },
    );
  return [...large, ...unseenWarnings(assessed, options.form !== undefined)];
}
