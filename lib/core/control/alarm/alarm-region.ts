import { CoreError } from "../../errors";

/** Distance between the two edges where nothing else binds, and what stays between the floor and the outer edge, in sd. */
const INDIFFERENT_SD = 1.5;
export const LEAST_SD = 1;

/** What one side of a stream's region follows from; distances from the approved centre in the stream's unit. */
export type RegionGrounds = Readonly<{
  /** By how much the judged feature may move before its rare values meet the guarded limit; negative beyond it, null without one. */
  toLimit: number | null;
  /** The change from which readings are not proven (limit of the zero check), or that the engineer set; null without one. */
  toMatter: number | null;
  /** Changes up to here are ordinary: from shift to shift, of the display, of wear. At least 0. */
  floor: number;
  /** Standard deviation of one value, > 0. */
  sd: number;
}>;

/** What decides the outer edge: nothing does where the stream has neither limit nor a change that matters. */
export type RegionBound = "limit" | "change that matters" | "ordinary differences";

export type RegionSide = Readonly<{
  /** Edge of the in-control region: the run length holds here. */
  inControl: number;
  /** From here on a change matters. */
  outOfControl: number;
  binds: RegionBound;
  /** The limit is nearer than the change from which readings are not proven, or than ordinary differences and one sd. */
  noReserve: boolean;
}>;

/**
 * One side of the regions in control, indifferent and out of control of a stream.
 * Formula: d1 = max(min(toLimit, toMatter), floor + 1 sd); d0 = max(floor, d1 - 1.5 sd).
 *
 * @param grounds - see RegionGrounds
 * @returns both edges, 0 <= inControl < outOfControl
 * @throws CoreError out-of-range for an sd not above 0, a negative floor or a change that matters not above 0; not-finite
 * Source: Freund 1957, Industrial Quality Control 14(4) 13-23 (acceptance chart); Woodall and Faltin 2019, Quality
 *   Engineering 31 596-605 (three regions)
 * @example regionSide({ toLimit: 9.7, toMatter: 3, floor: 0.6, sd: 1.31 }).inControl // 1.035
 */
export function regionSide({ toLimit, toMatter, floor, sd }: RegionGrounds): RegionSide {
  if (!(sd > 0 && sd < Infinity)) throw new CoreError("out-of-range", `regionSide: sd must be above 0; got ${sd}`);
  if (!(floor >= 0 && floor < Infinity))
    throw new CoreError("out-of-range", `regionSide: floor must be >= 0; got ${floor}`);
  if (toLimit !== null && !Number.isFinite(toLimit))
    throw new CoreError("not-finite", `regionSide: toLimit must be finite or null; got ${toLimit}`);
  if (toMatter !== null && !(toMatter > 0 && toMatter < Infinity))
    throw new CoreError("out-of-range", `regionSide: toMatter must be above 0 or null; got ${toMatter}`);
  const least = floor + LEAST_SD * sd;
  const asked = Math.min(toLimit ?? Infinity, toMatter ?? Infinity);
  const noReserve = toLimit !== null && toLimit < Math.max(least, toMatter ?? 0);
  const outOfControl = asked === Infinity ? least : Math.max(asked, least);
  const inControl = Math.max(floor, outOfControl - INDIFFERENT_SD * sd);
  const binds: RegionBound =
    outOfControl === least ? "ordinary differences" : asked === toLimit ? "limit" : "change that matters";
  return { inControl, outOfControl, binds, noReserve };
}
