import { mostLikelyModel, ZERO_BOUND_FAMILIES } from "../../core/capability/choose-distribution";
import { type RegionSide, regionSide } from "../../core/control/alarm/alarm-region";
import { chartConstants } from "../../core/control/charts/chart-constants";
import { modelUpperQuantile } from "../../core/distributions/distribution-model";
import { normalUpperQuantile } from "../../core/distributions/normal";
import { BORE_RANDOM_UM } from "../../core/metrology/bore-seat";
import { sampleMean, sampleSd } from "../../core/numerics/descriptive-statistics";

/**
 * Nonconforming frames that a change may bring before it matters: cost of a case over the cost of a nonconforming frame times the
 * frames until it is found anyway. A choice, no source.
 */
const RARE = 0.001;
const RARE_SD = normalUpperQuantile(RARE);
/** Growth of the random part of the uncertainty from which a spread within the bore matters. A choice, no source. */
const SPREAD_GROWTH = 1.5;
export const SHIFT_SPREADS = 2;

/** Limits narrowed by the guard band; null where there is none. */
export type Guarded = Readonly<{ lower: number | null; upper: number | null }>;

/** What ordinary differences of a stream are, in its unit. */
export type Ordinary = Readonly<{
  /** Standard deviation from shift to shift: zero, ring, temperature. */
  betweenShiftSd: number;
  /** Step of the values, 0 where they are as good as exact. */
  step: number;
  /** Half a step of the readings where the gauge does not resolve the variation; 0 where it does. */
  unresolved?: number;
  /** Half the wear of a tool's life and twice the sd of start levels, 0 where no tool wears. */
  wear: number;
}>;

/** Regions of both sides; null where the stream is not watched there. */
export type AlarmRegion = Readonly<{ lower: RegionSide | null; upper: RegionSide | null }>;

function floorOf({ betweenShiftSd, step, wear, unresolved = 0 }: Ordinary, sd: number): number {
  return Math.max(SHIFT_SPREADS * betweenShiftSd, sd < step / 2 ? step / 2 : 0, wear, unresolved);
}

/**
 * Region of a size stream, from its baseline. The drawing limits every two-point size: the smallest and the largest of a seat, not
 * its mean; taper by its absolute value.
 *
 * @param values - of the baseline, in the unit of the limits
 * @param judged - the values that the limits judge, of the same frames
 * @param toMatter - change from which readings are not proven (limit of the zero check), or null
 */
export function sizeRegion(
  values: readonly number[],
  judged: Readonly<{ smallest: readonly number[]; largest: readonly number[] }>,
  { lower, upper }: Guarded,
  ordinary: Ordinary,
  toMatter: number | null,
): AlarmRegion {
  const sd = sampleSd(values);
  const floor = floorOf(ordinary, sd);
  const rareOf = (side: readonly number[], sign: 1 | -1) => sampleMean(side) + sign * RARE_SD * sampleSd(side);
  return {
    lower: regionSide({ toLimit: lower === null ? null : rareOf(judged.smallest, -1) - lower, toMatter, floor, sd }),
    upper: regionSide({ toLimit: upper === null ? null : upper - rareOf(judged.largest, 1), toMatter, floor, sd }),
  };
}

/** Region of a form deviation, upwards: until its rare values, by the likeliest family, meet the guarded limit. */
export function formRegion(values: readonly number[], upper: number | null, ordinary: Ordinary): AlarmRegion {
  const sd = sampleSd(values);
  const model = mostLikelyModel(values, ZERO_BOUND_FAMILIES);
  const fitted = model === null ? sampleMean(values) + RARE_SD * sd : modelUpperQuantile(model, RARE);
  const rare = Math.max(fitted, ...values);
  const toLimit = upper === null ? null : upper - rare;
  return { lower: null, upper: regionSide({ toLimit, toMatter: null, floor: floorOf(ordinary, sd), sd }) };
}

/**
 * Region of the spread within a bore, which carries no limit: it matters where the random part of the uncertainty has grown by half.
 *
 * @param readings - diameters of a seat
 */
export function spreadRegion(values: readonly number[], readings: number, ordinary: Ordinary): AlarmRegion {
  const sd = sampleSd(values);
  const mean = sampleMean(values);
  const within = mean / chartConstants(Math.max(2, Math.min(100, readings))).d2;
  const random = Math.min(within, BORE_RANDOM_UM);
  const grown = Math.sqrt(within ** 2 + (SPREAD_GROWTH ** 2 - 1) * random ** 2);
  const toMatter = within > 0 ? mean * (grown / within - 1) : null;
  return { lower: null, upper: regionSide({ toLimit: null, toMatter, floor: floorOf(ordinary, sd), sd }) };
}

/**
 * Region of the offset vector: the radius by which its mean may move, whatever the direction, before its rare lengths meet half the
 * guarded zone.
 *
 * @param offsets - of the baseline, µm
 * @param zone - guarded zone diameter, µm, or null
 */
export function vectorRegion(
  offsets: readonly (readonly [number, number])[],
  zone: number | null,
  ordinary: Ordinary,
): AlarmRegion {
  const [twelve, three] = [offsets.map(([y]) => y), offsets.map(([, z]) => z)];
  const sd = Math.sqrt((sampleSd(twelve) ** 2 + sampleSd(three) ** 2) / 2);
  const centre = Math.hypot(sampleMean(twelve), sampleMean(three));
  const toLimit = zone === null ? null : zone / 2 - centre - RARE_SD * sd;
  return { lower: null, upper: regionSide({ toLimit, toMatter: null, floor: floorOf(ordinary, sd), sd }) };
}
