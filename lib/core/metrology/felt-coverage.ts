import { gaugeBarSet, tiltBoundsOfPassage, USUAL_GAUGE_BAR_SET } from "./gauge-bar";
import { USUAL_PLUG_FEEL } from "./plug-evidence";
import type { ReadingName, Seat } from "./reading-name";
import type { CharacteristicName, ShellDrawing } from "./shell-drawing";

/** A characteristic that a plan bounds by plugs or the bar, the places of those trials, and U of a bound in its unit. */
export type FeltCoverage = {
  readonly name: CharacteristicName;
  readonly seat: Seat | null;
  readonly indices: readonly number[];
  readonly uncertainty: number;
};

const SEATS = ["ds", "nds"] as const;
const RAD_PER_ARCMIN = Math.PI / 10800;

/**
 * Zone of coaxiality to the other seat as datum that a tilt of each seat to the common axis still allows, µm.
 * Formula: 2 (L t + 2 h t): the far mid-point lies off the datum axis by at most L t, its sections, h from it, by 2 h t more
 *
 * @param tiltArcmin - largest tilt of either seat to the common axis, arc minutes
 * @returns µm
 * Source: geometry of two seats, L the distance of their mid-points, h half the distance of the measured sections
 */
export function zoneOfTiltUm(drawing: ShellDrawing, tiltArcmin: number): number {
  const depths = drawing.fullPlanDepthsMm;
  const middle = depths.reduce((sum, depth) => sum + depth / depths.length, 0);
  const half = Math.max(...depths.map((depth) => Math.abs(depth - middle)));
  const apart = drawing.widthMm - 2 * middle;
  return 2 * (apart + 2 * half) * Math.tan(tiltArcmin * RAD_PER_ARCMIN) * 1000;
}

/**
 * What plugs and bar of a plan bound: the size of each seat that has a plug, tilt and coaxiality by the bar.
 *
 * @param names - readings of the plan
 * @returns one entry a characteristic and seat that the drawing limits, DS first; empty without plugs and bar
 */
export function feltCoverage(names: readonly ReadingName[], drawing: ShellDrawing): FeltCoverage[] {
  const limited = (name: CharacteristicName): boolean => drawing.characteristics.some((one) => one.name === name);
  const placesOf = (matches: (name: ReadingName) => boolean): number[] =>
    names.flatMap((name, index) => (matches(name) ? [index] : []));
  const sizes = SEATS.flatMap((seat): FeltCoverage[] => {
    const indices = placesOf((name) => name.kind === "plug" && name.seat === seat);
    if (indices.length === 0 || !limited("bore")) return [];
    return [{ name: "bore", seat, indices, uncertainty: USUAL_PLUG_FEEL.plugUncertaintyUm / 1000 }];
  });
  const bars = placesOf((name) => name.kind === "bar");
  if (bars.length === 0) return sizes;
  const uncertainty = Math.min(
    ...names.flatMap((name) =>
      // A set that nobody knows bounds nothing; U is then only what a usual one would leave.
      name.kind === "bar"
        ? [tiltBoundsOfPassage(gaugeBarSet(name.set) ?? USUAL_GAUGE_BAR_SET, "free").uncertaintyArcmin]
        : [],
    ),
  );
  const zone: FeltCoverage = {
    name: "coaxiality",
    seat: "nds",
    indices: bars,
    uncertainty: zoneOfTiltUm(drawing, uncertainty),
  };
  return [
    ...sizes,
    ...(limited("coaxiality") ? [zone] : []),
    ...(limited("tilt") ? SEATS.map((seat): FeltCoverage => ({ name: "tilt", seat, indices: bars, uncertainty })) : []),
  ];
}
