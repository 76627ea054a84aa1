import { compileMeasurement, type CompiledMeasurement } from "@/lib/core/metrology/measure-frame";
import { fullPlan, plugsAndBarPlan, routinePlan } from "@/lib/core/metrology/measuring-plan";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { normalCdf } from "@/lib/core/distributions/normal";
import { createSeededGenerator, type SeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { DEMONSTRATION_DRAWINGS } from "@/lib/quality/demonstration-drawings";
import type { JudgedCharacteristic } from "@/lib/quality/judge-frame";
import { judgeTogether } from "@/lib/quality/judge-together";
import { measureTrueShell, type Trouble, TROUBLES } from "./measuring-room";
import {
  type Defect,
  DEFECTS,
  drawTrueShell,
  passageMm,
  type TrueShell,
  type TrueValues,
  trueValues,
} from "./true-shell";

export const PLANS = ["full", "routine", "plugs and bar"] as const;
export type PlanKind = (typeof PLANS)[number];

/** A share: how many of how many. */
export type Share = { hits: number; of: number };

/** What a group of shells came to. */
export type Group = {
  /** Outside a limit of a critical characteristic by more than U, and yet *conforms*. */
  readonly passedBad: Share;
  /** Inside all limits by more than U: *does not conform*, and *not proven* without a named cause. */
  readonly condemnedGood: Share;
  readonly leftOpen: Share;
  /** The same for those inside by more than 2 U: no error within U takes them out of what can be proven. */
  readonly leftOpenWellInside: Share;
  /**
   * How many `leftOpen` would be with normal errors of standard deviation U / 2 around the truth and no other cause: what the
   * guard band of U asks for, whatever the estimator (ISO 14253-1). Of plans that read values.
   */
  readonly floor: Share;
};

/**
 * How often U covers the true error, and how often the error is beyond it to the shell's favour; one-sided characteristics from
 * `NEAR_SHARE` of their limit on, and `coveredAnywhere` of all shells.
 */
export type Coverage = { readonly covered: Share; readonly flattered: Share; readonly coveredAnywhere: Share };

export type Tally = {
  readonly shells: number;
  /** By "plan, defect" and by "plan, trouble". */
  readonly groups: ReadonlyMap<string, Group>;
  /** U covers the true error, by "plan, characteristic"; inspections in order only. */
  readonly coverage: ReadonlyMap<string, Coverage>;
};

const newGroup = (): Group => ({
  passedBad: { hits: 0, of: 0 },
  condemnedGood: { hits: 0, of: 0 },
  leftOpen: { hits: 0, of: 0 },
  leftOpenWellInside: { hits: 0, of: 0 },
  floor: { hits: 0, of: 0 },
});

const newCoverage = (): Coverage => ({
  covered: { hits: 0, of: 0 },
  flattered: { hits: 0, of: 0 },
  coveredAnywhere: { hits: 0, of: 0 },
});

function count(share: Share, hit: boolean): void {
  share.of += 1;
  if (hit) share.hits += 1;
}

/** How far inside its limits a true value lies, in U of the judged characteristic; negative outside. */
function marginInU({ name, seat, lower, upper, uncertainty }: JudgedCharacteristic, truth: TrueValues): number {
  const [smallest, largest] = truth.get(`${name} ${seat ?? ""}`) ?? [0, 0];
  const margin = Math.min(lower === null ? Infinity : smallest - lower, upper === null ? Infinity : upper - largest);
  return margin / uncertainty;
}

/** Chance that unbiased normal errors leave a value of some characteristic within its guard band of U; margins in U. */
function openByChance(marginsInU: readonly number[]): number {
  return 1 - marginsInU.reduce((clear, margin) => clear * normalCdf(2 * (margin - 1)), 1);
}

/** One-sided characteristics are looked at from this share of their limit on: near zero a length can only read too large. */
export const NEAR_SHARE = 0.3;

/** Whether a one-sided characteristic is so far from its limit that a length can only read too large. */
function isFarInside({ name, seat, lower, upper }: JudgedCharacteristic, truth: TrueValues): boolean {
  const [, largest] = truth.get(`${name} ${seat ?? ""}`) ?? [0, 0];
  return lower === null && largest < NEAR_SHARE * (upper ?? 0);
}

/** Error of what was judged in units of U, positive where it flatters the shell; null where there is none to look at. */
function errorInU(judged: JudgedCharacteristic, truth: TrueValues): number | null {
  const { name, seat, value, uncertainty, bounds } = judged;
  const [smallest, largest] = truth.get(`${name} ${seat ?? ""}`) ?? [0, 0];
  if (value === null) {
    if (bounds === undefined || (bounds.least === null && bounds.most === null)) return null;
    const beyond = Math.max(
      bounds.least === null ? 0 : bounds.least - smallest,
      bounds.most === null ? 0 : largest - bounds.most,
      0,
    );
    return beyond / uncertainty;
  }
  const isSmall = judged.smallest !== undefined && value === judged.smallest;
  const error = (name === "taper" ? Math.abs(value) : value) - (isSmall ? smallest : largest);
  return (isSmall ? error : -error) / uncertainty;
}

/** What a plan of plugs and bars is about: the passage of a seat, not its smallest two-point size, and the worse seat's tilt. */
function feltTruth(truth: TrueValues, shell: TrueShell, drawing: ShellDrawing): TrueValues {
  const felt = new Map(truth);
  const tilt = Math.max(truth.get("tilt ds")?.[0] ?? 0, truth.get("tilt nds")?.[0] ?? 0);
  for (const seat of ["ds", "nds"] as const) {
    felt.set(`bore ${seat}`, [passageMm(shell.seats[seat], drawing), truth.get(`bore ${seat}`)?.[1] ?? 0]);
    felt.set(`tilt ${seat}`, [tilt, tilt]);
  }
  return felt;
}

function compiledPlans(drawing: ShellDrawing): Readonly<Record<PlanKind, CompiledMeasurement>> {
  return {
    full: compileMeasurement(fullPlan(drawing), drawing),
    routine: compileMeasurement(routinePlan(drawing), drawing),
    "plugs and bar": compileMeasurement(plugsAndBarPlan(drawing), drawing),
  };
}

/** Every second shell is measured without trouble. */
function drawTrouble(random: SeededGenerator): Trouble {
  return random.uniform() < 0.5
    ? "none"
    : (TROUBLES[1 + Math.floor((TROUBLES.length - 1) * random.uniform())] ?? "none");
}

/**
 * The simulated measuring room: true shells near and beyond the limits of the demonstration drawings, measured as people measure,
 * judged by the functions of the plant.
 *
 * @param options.shells - number of true shells, each measured by every plan
 */
export function runMeasuringRoom({ shells, seed }: { readonly shells: number; readonly seed: number }): Tally {
  const random = createSeededGenerator(seed);
  const plans = DEMONSTRATION_DRAWINGS.map((drawing) => ({ drawing, compiled: compiledPlans(drawing) }));
  const groups = new Map<string, Group>();
  const coverage = new Map<string, Coverage>();
  const groupOf = (key: string): Group => {
    const found = groups.get(key) ?? newGroup();
    groups.set(key, found);
    return found;
  };
  for (let shell = 0; shell < shells; shell += 1) {
    const { drawing, compiled } = plans[shell % plans.length] ?? plans[0]!;
    const defect: Defect = DEFECTS[Math.floor(DEFECTS.length * random.uniform())] ?? "size";
    const truth = drawTrueShell(defect, drawing, random);
    const sizes = trueValues(truth, drawing);
    const felt = feltTruth(sizes, truth, drawing);
    const trouble = drawTrouble(random);
    for (const plan of PLANS) {
      const values = plan === "plugs and bar" ? felt : sizes;
      const hand = { random, trouble };
      const first = measureTrueShell(truth, drawing, compiled[plan], hand);
      const all =
        trouble === "measured twice" ? [first, measureTrueShell(truth, drawing, compiled[plan], hand)] : [first];
      const judged = judgeTogether(all, null)?.judgement;
      if (judged === undefined) continue;
      const { verdict, characteristics } = judged;
      const margins = characteristics.map((one) => marginInU(one, values));
      const isBad = characteristics.some(({ critical }, at) => critical && (margins[at] ?? 0) < -1);
      const isGood = margins.every((margin) => margin > 1);
      const isWellInside = margins.every((margin) => margin > 2);
      const byChance = isGood && plan !== "plugs and bar" ? openByChance(margins) : 0;
      const isNamed = characteristics.some((one) => one.verdict === "not proven" && one.code !== undefined);
      for (const group of [
        groupOf(`${plan}, ${defect}`),
        groupOf(`${plan}, measured: ${trouble}`),
        groupOf(`${plan}, all`),
      ]) {
        if (isBad) count(group.passedBad, verdict === "conforms");
        if (isGood) {
          count(group.condemnedGood, verdict === "does not conform");
          count(group.leftOpen, verdict === "not proven" && !isNamed);
          group.floor.of += 1;
          group.floor.hits += isNamed ? 0 : byChance;
          if (isWellInside) count(group.leftOpenWellInside, verdict === "not proven" && !isNamed);
        }
      }
      if (trouble !== "none") continue;
      for (const one of characteristics) {
        const error = one.code !== undefined && one.value !== null ? null : errorInU(one, values);
        if (error === null) continue;
        const key = `${plan}, ${one.name}${one.name === "tilt" ? ` ${one.seat ?? ""}` : ""}`;
        const found = coverage.get(key) ?? newCoverage();
        coverage.set(key, found);
        count(found.coveredAnywhere, Math.abs(error) <= 1);
        if (isFarInside(one, values)) continue;
        count(found.covered, Math.abs(error) <= 1);
        count(found.flattered, error > 1);
      }
    }
  }
  return { shells, groups, coverage };
}
