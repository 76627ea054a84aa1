import { andersonDarlingNormal } from "../core/distributions/anderson-darling";
import type { Seat } from "../core/metrology/reading-name";
import { isConstant, sampleMean, sampleSd } from "../core/numerics/descriptive-statistics";
import { afterLot, type SwitchingState } from "../core/sampling/switching";
import type { CharacteristicName } from "../core/metrology/shell-drawing";
import { type LotPlan, SIZES_BY_VARIABLES, type SizeByVariables } from "./lot-plan";

/** A frame of a sampled batch as the judgement of the batch sees it. */
export type LotFrame = {
  readonly serial: string;
  /** It was drawn, or stands for one that left unmeasured. */
  readonly isSample: boolean;
  readonly isMeasured: boolean;
  /** It did not conform at some time, by an inspection that was not withdrawn. */
  readonly hasFailed: boolean;
  /** Not proven as it stands now. */
  readonly isDoubtful: boolean;
  /** What it does not conform in now, or is not proven in. */
  readonly against: readonly CharacteristicName[];
};

/** One size of the sample's frames against one of its limits. */
export type LotSize = {
  readonly name: SizeByVariables;
  readonly seat: Seat | null;
  readonly side: "lower" | "upper";
  readonly limit: number;
  /** Of each frame the two-point size that is nearest to this limit, mm. */
  readonly values: readonly number[];
};

/** How far the mean of a size lies inside its limit, in standard deviations, against k. */
export type LotStatistic = Omit<LotSize, "values"> & {
  readonly frames: number;
  readonly mean: number;
  readonly sd: number;
  /** Null where all values are equal. */
  readonly q: number | null;
  readonly isMet: boolean;
  /** The values do not look normally distributed, so that the plan does not hold for them. */
  readonly isNotNormal: boolean;
};

/** A batch judged by its plan. */
export type LotJudgement = {
  readonly plan: LotPlan;
  readonly state: "measuring" | "accepted" | "refused";
  readonly measured: number;
  /** Frames of the sample that count against it, and failing frames that were measured beside it. */
  readonly found: readonly string[];
  readonly beside: readonly string[];
  readonly statistics: readonly LotStatistic[];
  readonly isAcceptedTighter: boolean;
};

/** Below this a sample hardly looks normally distributed; 1 % (common practice, no source). */
const NORMAL_P = 0.01;
/** Fewer values tell nothing of their distribution. */
const FEWEST_FOR_NORMAL = 8;

function statisticOf(size: LotSize, plan: LotPlan, k: number): LotStatistic | null {
  const { values, limit, side, name } = size;
  if (values.length < 2) return null;
  const known = plan.scheme.kind === "iso-3951-1" && plan.scheme.method === "sigma" ? plan.scheme.sigmaMm[name] : null;
  if (known === undefined) return null;
  const mean = sampleMean(values);
  const isFlat = isConstant(values);
  const sd = known ?? (isFlat ? 0 : sampleSd(values));
  const inside = side === "upper" ? limit - mean : mean - limit;
  const isNotNormal =
    known === null && !isFlat && values.length >= FEWEST_FOR_NORMAL && andersonDarlingNormal(values).p < NORMAL_P;
  const q = sd > 0 ? inside / sd : null;
  const isMet = !isNotNormal && (q === null ? inside >= 0 : q >= k);
  return { name, seat: size.seat, side, limit, frames: values.length, mean, sd, q, isMet, isNotNormal };
}

const isSize = (name: CharacteristicName): name is SizeByVariables => SIZES_BY_VARIABLES.some((one) => one === name);

/** Whether a frame counts against the sample: in a plan by variables its sizes speak by their spread, all else by counting. */
function counts({ hasFailed, isDoubtful, against }: LotFrame, judged: ReadonlySet<CharacteristicName>): boolean {
  if (!hasFailed && !isDoubtful) return false;
  // What failed before and is mended since says no more in what.
  return against.length === 0 || against.some((name) => !judged.has(name));
}

/**
 * A batch by its plan: not proven counts as nonconforming, and so does what failed once, whatever became of it. By variables
 * each limit of a size is judged by the two-point sizes nearest to it; form and position are counted, and none may be found. A failing frame
 * that was measured beside the sample refuses the batch, too.
 *
 * Source: ISO 2859-1:1999 clause 10.1 (acceptance of a lot); ISO 3951-1:2005 clause 16 (one limit; each of two limits by itself), both from memory
 */
export function lotJudgement(plan: LotPlan, frames: readonly LotFrame[], sizes: readonly LotSize[]): LotJudgement {
  const sample = frames.filter(({ isSample }) => isSample);
  const measured = sample.filter(({ isMeasured }) => isMeasured).length;
  const k = plan.k;
  const statistics = k === null ? [] : sizes.flatMap((size) => statisticOf(size, plan, k) ?? []);
  const judged = new Set<CharacteristicName>(statistics.map(({ name }) => name).filter(isSize));
  const found = sample.filter((frame) => counts(frame, judged)).map(({ serial }) => serial);
  const beside = frames.filter((frame) => !frame.isSample && frame.hasFailed).map(({ serial }) => serial);
  const shared = { plan, measured, found, beside, statistics };
  const most = plan.ac ?? 0;
  const isRefused = found.length > most || beside.length > 0 || statistics.some(({ isMet }) => !isMet);
  if (measured < Math.min(plan.n, sample.length)) {
    // Enough were found already: the rest of the sample changes nothing.
    const isOver = found.length > most || beside.length > 0;
    return { ...shared, state: isOver ? "refused" : "measuring", isAcceptedTighter: false };
  }
  const { tighter } = plan;
  const isAcceptedTighter =
    !isRefused &&
    found.length <= (tighter?.ac ?? most) &&
    statistics.every(({ q }) => q === null || q >= (tighter?.k ?? k ?? 0));
  return { ...shared, state: isRefused ? "refused" : "accepted", isAcceptedTighter };
}

/**
 * Where the switching stands after a batch that was judged.
 *
 * Source: ISO 2859-1:1999 clause 9; by variables a lot that the next tighter AQL would accept counts 3 towards reduced inspection,
 *   another one 0 (ISO 3951-1:2005 clause 19, from memory)
 */
export function afterJudgement(state: SwitchingState, { plan, state: judged, isAcceptedTighter }: LotJudgement) {
  const { scheme } = plan;
  const isReducedWanted = "reducedWanted" in scheme && scheme.reducedWanted;
  const ac = plan.k === null ? (plan.ac ?? 0) : 2;
  const isAccepted = judged === "accepted";
  return afterLot(state, { isAccepted, ac, isAcceptedTighter, isSteady: true, isReducedWanted });
}

/** The share of the sample that counts against the batch: its own point on the operating characteristic. */
export function lotShare({ found, measured }: Pick<LotJudgement, "found" | "measured">): number {
  return measured === 0 ? 0 : found.length / measured;
}
