import { CoreError } from "../errors";
import type { CharacteristicName } from "./shell-drawing";
import { sweepOrder } from "./sweep-harmonics";

/** How a gauge touches the seat. */
export type GaugePrinciple =
  | { readonly kind: "two-point" }
  /** Three jaws at 120 degrees. */
  | { readonly kind: "three-point" }
  /** Indicator turned through a number of distinct angles. */
  | { readonly kind: "indicator-sweep"; readonly angles: number };

/** Features whose lobes must be seen, beyond those a drawing limits. */
export type LobedFeature = CharacteristicName | "roundness" | "cylindricity" | "inscribed size" | "functional size";

const TWO_TO_SEVEN = [2, 3, 4, 5, 6, 7];

/** Lobes (harmonics of the radius) that a feature needs to be seen (by its definition; none above the 7th: common practice, no source). */
const NEEDED_LOBES: Readonly<Record<LobedFeature, readonly number[]>> = {
  bore: [],
  ovality: [2],
  taper: [],
  coaxiality: [1],
  tilt: [1],
  "face run-out": [1],
  width: [],
  roundness: TWO_TO_SEVEN,
  cylindricity: TWO_TO_SEVEN,
  "inscribed size": TWO_TO_SEVEN,
  "functional size": TWO_TO_SEVEN,
};

/**
 * How far the reading of a gauge swings, turned once in a seat with one harmonic on its radius.
 * Diametral gauges show 2 x the mean of the radii at their contacts: two points see even orders, three points at 120 degrees
 * see multiples of 3; a swing is then 4 x amplitude. An indicator swings by 2 x amplitude up to the order that its angles
 * can tell.
 *
 * @param gauge - contact principle
 * @param order - harmonic of the radius, integer >= 1
 * @param amplitude - amplitude of the harmonic, any unit, >= 0
 * @returns swing, same unit
 * @throws CoreError out-of-range on an order below 1 or a negative amplitude
 * Source: tests/reference/geometry.json, threeJawVisibility (computed).
 */
export function gaugeSwing(gauge: GaugePrinciple, order: number, amplitude: number): number {
  if (!Number.isInteger(order) || order < 1)
    throw new CoreError("out-of-range", `gaugeSwing: order must be an integer from 1; got ${order}`, { order });
  if (!(amplitude >= 0))
    throw new CoreError("out-of-range", `gaugeSwing: amplitude must be at least 0; got ${amplitude}`, { amplitude });
  switch (gauge.kind) {
    case "two-point":
      return order % 2 === 0 ? 4 * amplitude : 0;
    case "three-point":
      return order % 3 === 0 ? 4 * amplitude : 0;
    case "indicator-sweep":
      return gauge.angles >= 3 && order <= sweepOrder(gauge.angles) ? 2 * amplitude : 0;
  }
}

/**
 * Lobes that a feature needs and none of the gauges sees; only those make the feature not proven.
 *
 * @param feature - characteristic or form
 * @param gauges - all gauges whose readings go into it; empty sees nothing
 * @returns orders, ascending; empty where nothing that is needed is unseen
 */
export function unseenLobes(feature: LobedFeature, gauges: readonly GaugePrinciple[]): number[] {
  return NEEDED_LOBES[feature].filter((order) => gauges.every((gauge) => gaugeSwing(gauge, order, 1) === 0));
}
