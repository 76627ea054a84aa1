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

/** What a plan shorter than the full one does not see of each characteristic; its U contains it. */
export const UNSEEN_FORM = {
  bore: "sizes between its directions or at a depth that it leaves out",
  ovality: "an oval between its directions",
  taper: "an oval that its directions do not average out",
  coaxiality: "lobes that its angles take for an offset, or a section that it leaves out",
  tilt: "lobes that its angles take for an offset",
  "face run-out": "waves that its angles take for run-out",
  width: "widths between its positions",
} as const satisfies Record<CharacteristicName, string>;

function seatWord(seat: Seat | null): string {
  return seat === null ? "" : ` (${seat.toUpperCase()})`;
}

/** What a plan does not see, by name and in sentences, one for all seats with the same. */
function unseenSentences(assessed: readonly PlannedCharacteristic[], isKnown: boolean): string[] {
  const names = [...new Set(assessed.filter(({ unseen }) => unseen > 0).map(({ name }) => name))];
  const from = isKnown ? "as the stream's full plans show them" : "up to the drawing's form limits";
  return names.map((name) => {
    const seats = assessed.filter((one) => one.name === name && one.unseen > 0).map(({ seat }) => seatWord(seat));
    return `This plan does not see ${UNSEEN_FORM[name]}: the uncertainty of ${name}${seats.length === 1 ? seats[0] : ""} contains them, ${from}.`;
  });
}

/**
 * The same in sentences, for those characteristics whose uncertainty is over a quarter of the tolerance, or that the plugs and
 * bars of the plan can never prove to conform; and what the plan does not see.
 */
export function uncertaintyWarnings(
  drawing: ShellDrawing,
  names: readonly ReadingName[],
  options: MeasuringOptions = {},
): readonly string[] {
  const assessed = assessPlanUncertainty(drawing, names, options);
  const large = assessed
    .filter((one) => one.large || one.felt?.canConform === false)
    .map(({ name, seat, shareOfTolerance, eatsTolerance, felt }) => {
      const where = seatWord(seat);
      if (felt !== undefined) return `${feltReachText({ name, where, felt })}.`;
      const share = Math.round((shareOfTolerance ?? 0) * 100);
      return `The uncertainty of ${name}${where} is ${share} % of its tolerance${eatsTolerance ? ": no value can conform" : ""}.`;
    });
  return [...large, ...unseenSentences(assessed, options.form !== undefined)];
}

function feltReachText({
  name,
  where,
  felt,
}: {
  readonly name: CharacteristicName;
  readonly where: string;
  readonly felt: FeltReach;
}): string {
  const open = "add the plug, rod or bar that can, or readings";
  return felt.canFail
    ? `Plugs and bars of this plan can show ${name}${where} out of its limits and never inside them: ${open}`
    : `Plugs and bars of this plan prove nothing of ${name}${where}: ${open}`;
}
